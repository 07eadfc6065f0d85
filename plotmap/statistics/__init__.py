"""Estimates from samples, on plain arrays. Knows no trees and no geography."""
