package suspects

import "phasewright/yamltext"

// Error is one thing wrong with an evidence file, with its place.
type Error = yamltext.Error

// Errors is everything wrong that one reading found, in the order of the text.
type Errors = yamltext.Errors
