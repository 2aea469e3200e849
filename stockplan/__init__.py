"""Weekly stock and cutting plans for a firm that lays artificial grass."""

__version__ = "0.1.0"
