package shaft

import "phasewright/quantity"

func seconds(v float64) string { return quantity.Number(v, 3) + " s" }
