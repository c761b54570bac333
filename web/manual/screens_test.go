package manual_test

import (
	"strings"
	"testing"

	"phasewright/web/manual"
	"phasewright/web/webtest"
)

// A picture of every chapter, for somebody to look at: on the phone and the desk, by day and by night.
func TestManualScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	pages := map[string]string{}
	for _, c := range manual.Chapters() {
		pages["manual-"+strings.ToLower(c.ID)] = c.Path()
	}
	webtest.NewShop(t).Photograph(t, dir, pages, webtest.Enlivened)
}
