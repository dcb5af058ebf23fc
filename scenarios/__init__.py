"""Text to checked simulator objects: quantities, the schema, the loader, parts and ready scenarios."""
