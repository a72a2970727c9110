"""What a piece of bar is: section, grade, shape, developed length, bending."""
