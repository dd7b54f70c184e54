"""Reports that convince in years to come: the document, its signatures, and whether both still hold."""
