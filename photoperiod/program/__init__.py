"""Dated tables for all channels, and what they give to zones."""
