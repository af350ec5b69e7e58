"""Pictures as SVG text: one function a picture, its palette an argument."""
