"""Printed sheets (PDF) and figures (SVG): plain data in, bytes or text out."""
