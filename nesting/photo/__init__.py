"""Boards out of photographs: printed marks beside them give scale and plane."""
