"""One drive computed: its sun, shade, sky and power, and the sums over them."""
