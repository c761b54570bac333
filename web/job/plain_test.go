package job_test

import (
	"regexp"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/web/webtest"
	"phasewright/words/plain"
)

var (
	drawn = regexp.MustCompile(`(?s)<(svg|head|footer|script)\b.*?</(svg|head|footer|script)>`)
	block = regexp.MustCompile(`</?(?:p|li|ul|ol|td|tr|th|table|div|h[1-6]|summary|legend|label|figcaption|caption|button|dt|dd|form|section|option|small|b|em|span|header|nav|title)\b[^>]*>`)
	tag   = regexp.MustCompile(`<[^>]*>`)
	name  = regexp.MustCompile(`capture\.leads_swapped`)
)

// What the pages of a job of every example say is plain: no sentence that a reader loses, and no word in a meaning that
// another has.
func TestPagesArePlain(t *testing.T) {
	s := webtest.NewShop(t)
	sentences, total := 0, 0
	for _, e := range examples.Cards() {
		job := sparkJob(s, e.Name)
		id := strings.TrimPrefix(job, "/job/")
		for _, r := range [][2]string{{"800", "11"}, {"1500", "11.1"}, {"2200", "10.9"}, {"3000", "11"}, {"2200", "31"}} {
			s.Read(id, r[0], r[1], "confirmed", "yes")
		}
		for _, page := range []string{"", "/sheet", "/spark", "/spark?dwell=4.6&lead=44", "/steps", "/do", "/readings", "/suspects", "/proof", "/leads"} {
			body := drawn.ReplaceAllString(webtest.HTMLText(s.Get(job+page).Body.String()), "")
			for _, text := range block.Split(body, -1) {
				text = name.ReplaceAllString(tag.ReplaceAllString(text, ""), "…")
				for _, one := range plain.Sentences(text) {
					sentences, total = sentences+1, total+plain.Words(one)
				}
				for _, fault := range append(plain.Faults(text), plain.Long(text, plain.Longest)...) {
					t.Errorf("%s%s: %s", e.Name, page, fault)
				}
			}
		}
	}
	t.Logf("%d sentences and labels of %.1f words on average", sentences, float64(total)/float64(max(sentences, 1)))
	if sentences < 1000 {
		t.Error("the pages were not read")
	}
}
