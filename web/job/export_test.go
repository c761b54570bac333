package job

import (
	"net/url"

	"phasewright/suspects"
	"phasewright/web/shelf"
)

// What the tests that see the whole server ask of this room.

// FormPrefix goes before the names of the card's fields.
const FormPrefix = formPrefix

// CardValues takes a card's text apart.
func CardValues(text string) map[string]string { return cardValues(text) }

// CardText is the card that a form gives.
func CardText(form url.Values) string {
	values, _ := formValues(form)
	return cardText(values)
}

// Limits are what the plant makes unsafe to look at.
func Limits(j *shelf.Job) suspects.Limits { return limits(j) }
