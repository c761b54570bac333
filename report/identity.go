package report

import (
	"crypto/sha256"
	"encoding/hex"
	"strconv"
	"time"

	"phasewright/drawing"
	"phasewright/jobcard"
)

// smallest is the size of the smallest words on these papers, mm: 7 points are 2.47 mm.
const smallest = 2.48

// Identity tells a paper from every other one. It stands on each of its pages, with the fields that a certificate must
// have there (ISO/IEC 17025, 7.8.2.1) and a drawing's title block (ISO 7200), both from memory.
type Identity struct {
	Job      string // id in the shop book; "" for a paper made from a card alone
	Revision int    // events that the job held when the paper was made
	// Worked and WorkedTo are the first and the last day of the work on the engine; zero where nobody said.
	Worked, WorkedTo time.Time

	shop    string // stands for the maker where nobody is named
	card    string // SHA-256 of the card that it was made from, hexadecimal; "" without a card
	figures string // and of the figures carried along
}

// Number is the paper's own number: job, kind of paper, revision; of a paper made from a card alone, what the card's
// hash begins with stands for the job, and without a card the hash of its figures. The same job
// or card as it is gives the same number.
func (i Identity) Number(kind string) string {
	switch {
	case i.Job != "":
		return i.Job + "-" + kind + "-" + strconv.Itoa(i.Revision)
	case i.card != "":
		return i.card[:hashShown] + "-" + kind
	}
	return i.figures[:hashShown] + "-" + kind
}

// hashShown is how many digits of a hash are printed where it only has to be told from others: 48 bits.
const hashShown = 12

// identified is the identity of a paper made from a card, which may be nil.
func (s Stamp) identified(c *jobcard.Card) Identity {
	i := s.Identity
	if c != nil {
		i.shop = c.Job.Shop
		if len(c.Source()) > 0 {
			i.card = sum(c.Source())
		}
	}
	i.figures = sum(s.JSON)
	return i
}

func sum(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// cells are the fields of the title block that every paper has, but for the page.
func (i Identity) cells(kind string, s Stamp) []drawing.Cell {
	number := drawing.Cell{Label: "number: job, paper, revision", Value: i.Number(kind), Share: 2.2}
	switch {
	case i.Job != "":
	case i.card != "":
		number.Label = "number: no job; card, paper"
	default:
		number.Label = "number: no job; figures, paper"
	}
	card := "no card"
	if i.card != "" {
		card = i.card[:hashShown]
	}
	return []drawing.Cell{number, {Label: "card, SHA-256", Value: card, Share: 1.15},
		{Label: "date of work", Value: i.worked(), Share: 1.1},
		{Label: "date of issue", Value: moment(s.Date), Share: 1.7},
		{Label: "made by", Value: or(s.By, i.shop), Share: 1.4}}
}

// worked is the day or the days of the work.
func (i Identity) worked() string {
	from, to := day(i.Worked), day(i.WorkedTo)
	if i.WorkedTo.IsZero() || from == to {
		return from
	}
	return from + " to " + to
}

// moment is how a time is printed: ISO 8601, with the offset of its zone. A time at midnight UTC is a date that
// somebody gave without one.
func moment(t time.Time) string {
	if t.Equal(t.UTC().Truncate(24 * time.Hour)) {
		return day(t)
	}
	return t.Format("2006-01-02 15:04 -07:00")
}
