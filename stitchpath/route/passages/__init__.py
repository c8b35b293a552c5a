"""Routes whose price is her time: turns, returns and changes of foot cost where lines meet."""
