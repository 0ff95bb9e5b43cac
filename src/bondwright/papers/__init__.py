"""What leaves the tool: PDF, HTML, CSV, JSON, the picture and the netlist."""
