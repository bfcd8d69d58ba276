"""The page that `backbearing desk` opens on this computer, where an outing is made by hand and eye.

A small server on the loopback address and a page of our own. The page computes no astronomy: it
shows, and interpolates between, what the same library answers that the commands use.
"""
