"""The account of a plan: wood used and left, what is to be bought, how strong and how heavy."""
