package job_test

import (
	"fmt"
	"net/http/httptest"
	"syscall"
	"testing"
	"time"

	"phasewright/web/webtest"
)

// spent is the processor time of this process so far, which neighbours on the machine do not lengthen.
func spent() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func BenchmarkSparkPart(b *testing.B) {
	s := webtest.NewShop(b)
	for _, name := range []string{"sandpiper", "heron-ferry", "ember-twelve"} {
		job := sparkJob(s, name)
		b.Run(name, func(b *testing.B) {
			size, began := 0, spent()
			for i := 0; b.Loop(); i++ {
				r := webtest.Request("GET", fmt.Sprintf("%s/spark/part?dwell=%.2f&gap=0.%d", job, 1.5+float64(i%30)*0.05, 5+i%4), webtest.HostAddr, nil)
				r.Header.Set("Accept-Encoding", "gzip")
				w := httptest.NewRecorder()
				s.ServeHTTP(w, r)
				if w.Code != 200 {
					b.Fatal(w.Code, w.Body)
				}
				size = w.Body.Len()
			}
			b.ReportMetric(float64(size)/1024, "KiB")
			b.ReportMetric(float64((spent()-began).Microseconds())/1000/float64(b.N), "cpu-ms/op")
		})
	}
}
