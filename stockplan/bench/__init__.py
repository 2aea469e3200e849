"""Invented weeks and measurements: how large, how fast, how good; nothing the program itself needs."""
