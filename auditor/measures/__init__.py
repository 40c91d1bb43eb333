"""What is computed: one module per topic of pure, vectorised functions that know no state and no limit."""
