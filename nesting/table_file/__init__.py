"""Tables as spreadsheets and CSV files have them: cells with their places; knows not what of."""
