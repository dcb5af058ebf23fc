"""Tables and text for the terminal, drawn from the object that `reports.exports` makes."""
