"""What readings mean: window, settling, forecast, trim, runaway, disturbance, uncertainty."""
