"""What pages show, as plain texts and plain JSON; no Streamlit here."""
