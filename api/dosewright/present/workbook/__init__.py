"""Ready spreadsheets of every calculation, made from the register: inputs, formulas that ask the service, a chart."""
