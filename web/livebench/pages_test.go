package livebench_test

import (
	"net/url"
	"strconv"
	"testing"

	"phasewright/web/webtest"
)

// BenchmarkPages is the time of each page of a job at rest, and after a new reading.
func BenchmarkPages(b *testing.B) {
	s := webtest.NewShop(b)
	job := s.NewJob()
	for i := range 10 {
		s.Read(job, strconv.Itoa(800+300*i), "9")
	}
	for _, path := range []string{"", "/card", "/sheet", "/readings", "/captures", "/proof"} {
		page := func() {
			if w := s.Get("/job/" + job + path); w.Code != 200 {
				b.Fatal(w.Code)
			}
		}
		b.Run("rest"+path, func(b *testing.B) {
			for b.Loop() {
				page()
			}
		})
		b.Run("fresh"+path, func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				s.Post("/job/"+job+"/note", url.Values{"text": {"x"}})
				b.StartTimer()
				page()
			}
		})
	}
}
