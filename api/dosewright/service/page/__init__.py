"""The page on which a person tries each calculation, and the method sheets: all made from the register."""
