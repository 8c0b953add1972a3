/* The name typed at the top, kept for this tab alone, so that a reload need not ask for it again; on a shared computer a new tab does. */

const PLACE = "motifs: name for the record";
let wasOffered = false;

export default function (component) {
  const { data, setTriggerValue } = component;
  const kept = window.sessionStorage.getItem(PLACE);
  if (data.name) {
    window.sessionStorage.setItem(PLACE, data.name);
    wasOffered = true;
  } else if (kept && !wasOffered) {
    wasOffered = true;
    setTriggerValue("kept", kept);
  } else if (wasOffered) {
    window.sessionStorage.removeItem(PLACE);
  }
}
