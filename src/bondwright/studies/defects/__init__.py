"""What if a bond is missing, extra, loose, swapped or too small: every such defect of a site."""
