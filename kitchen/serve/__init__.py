"""The kitchen on one machine: everything made ready, then the web server and the worker, watched until they
are stopped.
"""
