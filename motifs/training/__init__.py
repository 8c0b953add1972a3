"""How models/ was made: painted surfaces, crops drawn from them, losses, and the calibration of the evidence."""
