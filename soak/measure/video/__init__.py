"""What pictures show: states of a picture, a coded clip, recordings looked through."""
