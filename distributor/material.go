package distributor

import "strings"

// Pairing is the verdict on a gear material against a cam material.
type Pairing int

// The verdicts. Unknown pairs stop the work.
const (
	UnknownPair Pairing = iota
	SuitedPair
	WearingPair // suited, but the gear wears by design and is inspected
	EatenPair   // the gear or the cam will be eaten
)

// pair is one row of the table of material pairs.
type pair struct {
	gear, cam string
	verdict   Pairing
	reason    string
}

// pairs is common practice of the trade, without a published source; the cam maker's word wins over every row.
var pairs = []pair{
	{"cast iron", "cast iron", SuitedPair, "cast iron runs on a cast-iron cam"},
	{"melonised steel", "cast iron", SuitedPair, "melonised steel runs on a cast-iron cam"},
	{"bronze", "billet steel", WearingPair, "bronze spares a billet-steel cam and wears itself: look at the " +
		"teeth at every oil change"},
	{"composite", "billet steel", SuitedPair, "composite runs on a billet-steel cam"},
	{"bronze", "cast iron", WearingPair, "bronze runs on anything and wears itself: look at the " +
		"teeth at every oil change"},
	{"composite", "cast iron", SuitedPair, "composite runs on a cast-iron cam"},
	{"steel", "billet steel", EatenPair, "a plain hard steel gear on a billet-steel cam eats it"},
	{"steel", "cast iron", EatenPair, "a plain hard steel gear on a cast-iron cam eats it"},
	{"cast iron", "billet steel", EatenPair, "a billet-steel cam eats a cast-iron gear"},
}

// Pair judges a gear material against a cam material, and says why in words.
func Pair(gear, cam string) (Pairing, string) {
	for _, p := range pairs {
		if p.gear == strings.ToLower(strings.TrimSpace(gear)) && p.cam == strings.ToLower(strings.TrimSpace(cam)) {
			return p.verdict, p.reason
		}
	}
	return UnknownPair, "no known experience with this pair: ask the cam maker which gear to use"
}
