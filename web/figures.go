package web

import (
	"math"
	"strings"

	"phasewright/quantity"
)

// figure prints a number for people; places below nought means four significant figures.
func figure(v float64, places int) string { return whole(quantity.Number(v, places)) }

// whole keeps numbers on one line: a thin space as thousands mark must not break in a page.
func whole(text string) string { return strings.ReplaceAll(text, "\u2009", "\u202f") }

// deg prints degrees as the light and the housing are read: to a tenth.
func deg(v float64) string { return figure(v, 1) + "°" }

// signed prints with a plus where it is above nought.
func signed(v float64, places int) string {
	text := figure(v, places)
	if v > 0 && !math.IsInf(v, 0) && text != figure(0, places) {
		return "+" + text
	}
	return text
}

// plusMinus prints an uncertainty, or that there is none yet.
func plusMinus(u float64, places int, unit string) string {
	return whole(quantity.PlusMinus(u, places, unit))
}
