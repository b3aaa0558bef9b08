"""What was kept, for people and for other programs: pages, print, CSV."""
