package quantity

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// ParseError says what text could not be read as a measure, why, and what is accepted.
type ParseError struct {
	Text    string // as written
	Problem string // "has no unit", "is not a number" …
	Remedy  string // "write a length such as 165 mm (accepted units: mm, cm …)"
}

// Error gives `"12..5 mm" is not a number; write a length such as 165 mm`.
func (e *ParseError) Error() string { return fmt.Sprintf("%q %s; %s", e.Text, e.Problem, e.Remedy) }

// Parse reads one value with its unit. Decimal point or comma, fractions ("7 1/4 in"), exponents and a true minus sign
// are understood.
func Parse[T Quantity](text string) (T, error) {
	m, err := ParseMeasured[T](text)
	if err != nil {
		return 0, err
	}
	if m.Stated {
		return 0, problem[T](text, "has a ±, which this value does not take")
	}
	return m.Value, nil
}

// ParseMeasured reads a value with its unit and, if written, its ± half-width: with a unit of its own, in the value's
// unit ("165 ± 0.3 mm"), or in percent of the value ("0.55 ohm ± 5 %").
func ParseMeasured[T Quantity](text string) (Measured[T], error) {
	var zero T
	k := zero.kind()
	none := Measured[T]{}
	if len(text) > 200 {
		return none, problem[T](text[:40]+"…", "is too long for a value")
	}
	clean := plainFractions(strings.TrimSpace(text))
	main, limit, stated := strings.Cut(plusMinus.Replace(clean), "±")
	if strings.Contains(limit, "±") {
		return none, problem[T](text, "has more than one ±")
	}
	value, unitText, why := splitNumber(main)
	if why != "" {
		return none, problem[T](text, why)
	}
	if !stated {
		v, why := inBase(value, unitText, k, text)
		if why != "" {
			return none, problem[T](text, why)
		}
		return Measured[T]{Value: T(v)}, nil
	}
	half, halfUnit, why := splitNumber(limit)
	if why != "" {
		return none, problem[T](text, "has a ± part that "+why)
	}
	if half < 0 {
		return none, problem[T](text, "has a negative ±")
	}
	if unitText == "" { // "165 ± 0.3 mm": the unit at the end serves both
		if halfUnit == "%" {
			return none, problem[T](text, "has no unit")
		}
		unitText = halfUnit
	}
	v, why := inBase(value, unitText, k, text)
	if why != "" {
		return none, problem[T](text, why)
	}
	if halfUnit == "%" {
		return Measured[T]{Value: T(v), Limit: T(math.Abs(v) * half / 100), Stated: true}, nil
	}
	if halfUnit == "" {
		halfUnit = unitText
	}
	u, ok := find(k, halfUnit)
	if !ok {
		return none, problem[T](text, fmt.Sprintf("has the unit %q after ±, which is not one of %s", halfUnit, k.name))
	}
	return Measured[T]{Value: T(v), Limit: T(half * u.factor), Stated: true}, nil
}

// Accepts tells a person what may be written for T, for error messages and the schema: "a length such as 165 mm (mm,
// cm, m, in)".
func Accepts[T Quantity]() string {
	var zero T
	k := zero.kind()
	return fmt.Sprintf("%s such as %s (units: %s)", k.name, k.example, k.accepts)
}

// Measure is how the values of one kind are written.
type Measure struct {
	Name    string // "a length"
	Example string // "165 mm"
	Units   string // the usual ones: "mm, cm, m"
}

// Measures lists all kinds of values that people write.
func Measures() []Measure {
	var out []Measure
	for _, k := range []*kind{crankKind, shaftKind, angleKind, speedKind, timeKind, lengthKind, volumeKind, voltageKind,
		currentKind, resistanceKind, inductanceKind, capacitanceKind, energyKind, pressureKind, gaugeKind,
		temperatureKind, inertiaKind, torqueKind, massKind, powerKind} {
		out = append(out, Measure{k.name, k.example, k.accepts})
	}
	return out
}

func problem[T Quantity](text, why string) *ParseError {
	return &ParseError{Text: text, Problem: why, Remedy: "write " + Accepts[T]()}
}

func inBase(value float64, unitText string, k *kind, text string) (float64, string) {
	if unitText == "" {
		return 0, "has no unit"
	}
	u, ok := find(k, unitText)
	if !ok {
		return 0, fmt.Sprintf("has the unit %q, which is not one of %s", unitText, k.name)
	}
	v := value*u.factor + u.offset
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, "is not a finite number"
	}
	return v, ""
}

func find(k *kind, text string) (unit, bool) {
	text = strings.Join(strings.Fields(text), " ")
	for _, u := range k.units {
		if u.name == text {
			return u, true
		}
	}
	for _, u := range k.units {
		if strings.EqualFold(u.name, text) && forgiven(u.name) {
			return u, true
		}
	}
	return unit{}, false
}

// forgiven says whether a unit may be written in any case: "RPM", "Ohm". Units with a prefix may not, since mPa is not
// MPa.
func forgiven(name string) bool {
	return slices.Contains([]string{"rpm", "deg", "degree", "degrees", "mm", "cm", "in", "inch", "inches", "thou",
		"ohm", "ohms", "bar", "psi", "volt", "volts", "amp", "amps", "degC", "degF"}, name)
}

// splitNumber takes the number off the front of text and gives the rest, trimmed, as the unit.
func splitNumber(text string) (value float64, unitText, why string) {
	text = strings.TrimSpace(text)
	rs := []rune(text)
	i := 0
	for i < len(rs) && numberRune(rs, i) {
		i++
	}
	number := strings.TrimSpace(string(rs[:i]))
	unitText = strings.TrimSpace(string(rs[i:]))
	if number == "" {
		return 0, unitText, "has no number in front"
	}
	value, why = readNumber(number)
	return value, unitText, why
}

func numberRune(rs []rune, i int) bool {
	r := rs[i]
	switch {
	case r >= '0' && r <= '9', r == '.', r == ',':
		return true
	case r == '+' || r == '-' || r == '−':
		return i == 0 || rs[i-1] == 'e' || rs[i-1] == 'E'
	case r == 'e' || r == 'E': // an exponent only between a digit and a digit or sign
		return i > 0 && i+1 < len(rs) && rs[i-1] >= '0' && rs[i-1] <= '9' &&
			strings.ContainsRune("0123456789+-−", rs[i+1])
	case r == '/':
		return i > 0 && i+1 < len(rs) && rs[i-1] >= '0' && rs[i-1] <= '9' && rs[i+1] >= '0' && rs[i+1] <= '9' &&
			!perMinute(rs[i:])
	case unicode.IsSpace(r):
		j := i
		for j < len(rs) && unicode.IsSpace(rs[j]) {
			j++
		}
		return j < len(rs) && rs[j] >= '0' && rs[j] <= '9' && !strings.HasPrefix(string(rs[j:]), "1/min")
	}
	return false
}

func perMinute(rs []rune) bool { return strings.HasPrefix(string(rs), "/min") }

func readNumber(text string) (float64, string) {
	const notNumber = "is not a number"
	text = strings.ReplaceAll(text, "−", "-")
	fields := strings.Fields(text)
	if last := fields[len(fields)-1]; strings.Contains(last, "/") {
		return readFraction(fields)
	}
	if len(fields) > 1 { // "3 200": groups of three behind the first
		for i, f := range fields {
			digits := strings.TrimLeft(f, "+-")
			whole, _, _ := strings.Cut(strings.ReplaceAll(digits, ",", "."), ".")
			if i > 0 && len(whole) != 3 || i == 0 && (len(whole) > 3 || whole == "" || len(whole) != len(digits)) ||
				i < len(fields)-1 && whole != digits {
				return 0, notNumber
			}
		}
		text = strings.Join(fields, "")
	}
	if strings.Contains(text, ",") {
		whole, fraction, _ := strings.Cut(text, ",")
		digits := strings.TrimLeft(whole, "+-")
		if strings.ContainsAny(fraction, ",.") || strings.Contains(whole, ".") {
			return 0, notNumber
		}
		if len(fraction) == 3 && len(digits) >= 1 && len(digits) <= 3 && strings.Trim(digits, "0") != "" {
			return 0, "may mean a thousand or a decimal (write it without the comma, or with a point)"
		}
		text = whole + "." + fraction
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) || strings.ContainsAny(text, "xXpP_") {
		return 0, notNumber
	}
	return v, ""
}

// fractions are the fractions that have a sign of their own, as phones put them in place of 1/2.
var fractions = strings.NewReplacer("½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8",
	"⅞", " 7/8")

// hyphened is a whole number and a fraction with the hyphen that shops put between them: 1-3/4.
var hyphened = regexp.MustCompile(`([0-9])-([0-9]+/[0-9])`)

// plainFractions turns 1¾ and 1-3/4 into 1 3/4, and -¾ into -3/4.
func plainFractions(text string) string {
	plain := strings.TrimSpace(fractions.Replace(text))
	for _, sign := range []string{"-", "+", "−"} {
		if plain != text && strings.HasPrefix(plain, sign+" ") {
			plain = sign + plain[len(sign)+1:]
		}
	}
	return hyphened.ReplaceAllString(plain, "$1 $2")
}

// readFraction reads "1/2" and "7 1/4".
func readFraction(fields []string) (float64, string) {
	const notFraction = "is not a fraction such as 7 1/4"
	if len(fields) > 2 {
		return 0, notFraction
	}
	sign, whole := 1.0, 0.0
	if strings.HasPrefix(fields[0], "-") {
		sign = -1
	}
	fields[0] = strings.TrimLeft(fields[0], "+-")
	if len(fields) == 2 {
		n, err := strconv.ParseUint(fields[0], 10, 32)
		if err != nil {
			return 0, notFraction
		}
		whole = float64(n)
	}
	over, under, _ := strings.Cut(fields[len(fields)-1], "/")
	a, errA := strconv.ParseUint(over, 10, 32)
	b, errB := strconv.ParseUint(under, 10, 32)
	if errA != nil || errB != nil || b == 0 || (len(fields) == 2 && a >= b) {
		return 0, notFraction
	}
	return sign * (whole + float64(a)/float64(b)), ""
}

// Pattern is a regular expression (ECMA-262 and RE2 alike) for the texts that Parse, or with limits ParseMeasured,
// takes for T: the JSON Schema of the job card is made of it. It is a little wider than the parser (it cannot judge
// "1,000") and never narrower.
func Pattern[T Quantity](limits Limits) string {
	var zero T
	k := zero.kind()
	// the blanks that unicode.IsSpace knows, in letters, since \s differs between the two dialects
	const blank = "[\\s\u000b\u0085\u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]"
	const number = `[+\-−]?(?:[0-9]{1,3}(?:` + blank + `+[0-9]{3})+(?:[.,][0-9]*)?|[+\-−]?(?:[0-9]+(?:` + blank +
		`+|-))?[0-9]+/[0-9]+|[+\-−]?[0-9]*` + blank + `*[½¼¾⅛⅜⅝⅞]|(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+\-−]?[0-9]+)?)`
	var names []string
	for _, u := range k.units {
		var name strings.Builder
		for _, r := range u.name {
			switch {
			case r == ' ':
				name.WriteString(blank + "+")
			case unicode.IsLetter(r) && forgiven(u.name):
				fmt.Fprintf(&name, "[%c%c]", unicode.ToLower(r), unicode.ToUpper(r))
			default:
				name.WriteString(regexp.QuoteMeta(string(r)))
			}
		}
		names = append(names, name.String())
	}
	slices.SortFunc(names, func(a, b string) int { return len(b) - len(a) })
	units := `(?:` + strings.Join(names, "|") + `)`
	value := blank + `*` + number + blank + `*`
	if limits == Bare {
		return `^` + value + units + blank + `*$`
	}
	sign := `(?:±|\+/-|\+-)`
	return `^(?:` + value + units + blank + `*(?:` + sign + value + `(?:` + units + `|%)?` + blank + `*)?|` + value +
		sign + value + units + blank + `*)$`
}

// Limits says whether a value may carry a ±.
type Limits int

// A bare value, or one that may carry a ±.
const (
	Bare Limits = iota
	WithLimits
)
