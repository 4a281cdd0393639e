"""What an amplifier does to a signal: samples in; level, distortion, response and noise out."""
