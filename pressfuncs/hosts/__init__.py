"""Hosts: the applications that the functions work in, each with an adapter made from the register."""
