"""What maintainers run by hand: tables of the manual, schema files, long hunts. No part of the installed package."""
