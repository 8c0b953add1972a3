"""What buttons do: callbacks that call one workflow and keep what it has to say."""
