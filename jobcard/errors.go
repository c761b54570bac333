package jobcard

import "phasewright/yamltext"

// Error is one thing wrong with a job card, with the place where it stands.
type Error = yamltext.Error

// Errors is everything wrong that could be found in one reading, in the order of the text.
type Errors = yamltext.Errors
