"""Where readings come from: lines of a serial port, instruments that are asked, imported sweeps."""
