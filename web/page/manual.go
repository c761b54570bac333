package page

import "strings"

// manualOf is where the manual speaks of a view; what is not named is led to the contents.
var manualOf = map[string]string{
	"book": "/manual/first-job", "new": "/manual/first-job#card", "card": "/manual/first-job#card",
	"job": "/manual/verdict", "proof": "/manual/verdict", "suspects": "/manual/verdict#cure",
	"sheet": "/manual/sheet", "spark": "/manual/sheet#coil-and-spark",
	"steps": "/manual/first-job#order", "do": "/manual/first-job#order",
	"readings": "/manual/light", "instruments": "/manual/light#instruments",
	"captures": "/manual/recorder", "capture": "/manual/recorder#shows", "wave": "/manual/recorder#shows",
	"leads": "/manual/recorder#parts", "bench": "/manual/bench", "benches": "/manual/bench",
	"devices": "/manual/book#phones", "pair": "/manual/book#phones", "done": "/manual/book#today",
}

// Manual is where the manual speaks of this page.
func (p *Page) Manual() string {
	if at := manualOf[p.View]; at != "" {
		return at
	}
	return "/manual"
}

// ManualOnItem is where the manual explains an item of the set-up sheet: by the item's own identifier, all marks of the
// damper at one place.
func ManualOnItem(item string) string {
	if strings.HasPrefix(item, "mark") {
		item = "mark"
	}
	return "/manual/sheet#" + item
}
