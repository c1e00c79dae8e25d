"""Results turned into text, pictures and pages; functions here return strings or bytes."""
