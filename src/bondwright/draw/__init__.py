"""Pictures and plots: SVG for the page, the PDF and the exported file, from one drawing code."""

from bondwright.draw.drawing import Drawing
from bondwright.draw.plot import time_current_plot
from bondwright.draw.ribbon import ribbon_picture

__all__ = ["Drawing", "ribbon_picture", "time_current_plot"]
