"""What is heard at the bench: what each sound says, how it sounds, and how it reaches the loudspeaker."""
