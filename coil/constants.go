package coil

import "phasewright/quantity"

// Constants are the numbers of this room that no card holds and that a verdict on coil or spark rests on, with the
// sheet's items that do.
func Constants() []quantity.Constant {
	const (
		textbooks   = "plasma textbooks"
		highVoltage = "high-voltage textbooks, from memory"
		rule        = "published rule for air at one atmosphere"
	)
	demand := []string{"spark_demand", "spark_margin", "spark_cranking"}
	gaps := append([]string{"crossfire"}, demand...)
	known := func(name string, value float64, unit, source string, where ...string) quantity.Constant {
		return quantity.Constant{Name: name, Value: value, Unit: unit, Source: source, Where: where}
	}
	return []quantity.Constant{
		quantity.Assume("exponent of compression, least", UsualExponent.Low, 1.25, 1.3, "",
			"spark_pressure").From("from memory of engine textbooks"),
		quantity.Assume("exponent of compression, most", UsualExponent.High, 1.35, 1.4, "",
			"spark_pressure").From("from memory of engine textbooks"),
		quantity.Assume("least voltage of edged electrodes", edged, 0.5, 0.9, "of smooth ones", gaps...),
		known("A of Paschen's law", Air.A, "/(Pa·m)", textbooks, gaps...),
		known("B of Paschen's law", Air.B, "V/(Pa·m)", textbooks, gaps...),
		quantity.Assume("γ of Paschen's law", Air.Gamma, 0.003, 0.03, "", gaps...).From(textbooks + ", from memory"),
		known("root term of the second gap formula", rootOfBarCm, "kV/√(bar·cm)", highVoltage, gaps...),
		known("line term of the second gap formula", lineOfBarCm, "kV/(bar·cm)", highVoltage, gaps...),
		known("line term of the third gap formula", lineOfCm, "kV/cm", highVoltage, gaps...),
		known("root term of the third gap formula", rootOfCm, "kV/√cm", highVoltage, gaps...),
		known("line term of the fourth gap formula", shortLine, "kV/cm", rule, demand...),
		known("foot of the fourth gap formula", shortFoot, "kV", rule, demand...),
		known("shortest gap that tables know", float64(leastKnown), "mm", "published tables of gaps", gaps...),
		known("longest gap that tables know", float64(mostKnown), "mm", "published tables of gaps", gaps...),
		known("densest gas that the law of p·d holds in", float64(highestKnown/atmosphere), "atmospheres",
			"from memory", gaps...),
		quantity.Assume("share of the final current that a dwell goes for", nearEnough, 0.8, 0.95, "", "dwell_table",
			"dwell_held"),
		known("copper's rise of resistance", 100*CopperPerKelvin, "% a kelvin", "IEC 60028, from memory",
			"coil_charge", "coil_heat"),
		quantity.Assume("rise of inductance that a bridge's scatter explains", 100*rise, 1, 5, "%", "coil.curve"),
	}
}

// CapConstants are those that only matter where a rotor carries the spark past other terminals.
func CapConstants() []quantity.Constant {
	return []quantity.Constant{
		quantity.Assume("warmest air in the cap", float64(capWarm), 60, 110, "°C",
			"crossfire", "spark_demand", "spark_margin", "spark_cranking"),
		quantity.Assume("hottest gas in the wrong cylinder", float64(exhaustHot), 300, 900, "°C", "crossfire"),
	}
}

// PairConstants are those that only matter where a companion's plug lies in series.
func PairConstants() []quantity.Constant {
	return []quantity.Constant{
		quantity.Assume("hottest gas in the companion cylinder", float64(exhaustHot), 300, 900, "°C",
			"spark_demand", "spark_margin", "spark_cranking"),
	}
}
