"""Migrations of the shop's schema, packaged with the program; run by `mapper.store.migrate`."""
