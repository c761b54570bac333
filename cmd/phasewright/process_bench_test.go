package main

import (
	"bufio"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
	"time"
)

// built compiles the program as it is released (scripts/build) and gives its path.
func built(b *testing.B) string {
	b.Helper()
	bin := filepath.Join(b.TempDir(), "phasewright")
	cmd := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-o", bin, ".")
	if out, err := cmd.CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	if st, err := os.Stat(bin); err == nil {
		b.Cleanup(func() { b.ReportMetric(float64(st.Size())/1e6, "MB") }) // asked for: 30 at most
	}
	return bin
}

// The set-up sheet end to end, as a process (asked for: 30 ms at most).
func BenchmarkSheetProcess(b *testing.B) {
	bin := built(b)
	for b.Loop() {
		if out, err := exec.Command(bin, "sheet", "../../examples/sandpiper.yaml").CombinedOutput(); err != nil {
			b.Fatalf("%v\n%s", err, out)
		}
	}
}

// From the start of the process to the first page in hand (asked for: 150 ms at most), on a book that is there already.
func BenchmarkFirstPage(b *testing.B) {
	bin := built(b)
	book := filepath.Join(b.TempDir(), "shop.book")
	address := regexp.MustCompile(`localhost:([0-9]+)`)
	var first time.Duration
	for b.Loop() {
		start := time.Now()
		cmd := exec.Command(bin, "serve", "--book", book, "--listen", "127.0.0.1:0")
		errs, err := cmd.StderrPipe()
		if err != nil {
			b.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			b.Fatal(err)
		}
		port := 0
		for s := bufio.NewScanner(errs); port == 0 && s.Scan(); {
			if m := address.FindStringSubmatch(s.Text()); m != nil {
				port, _ = strconv.Atoi(m[1])
			}
		}
		resp, err := http.Get("http://127.0.0.1:" + strconv.Itoa(port) + "/")
		if err != nil {
			b.Fatal(err)
		}
		if _, err := io.Copy(io.Discard, resp.Body); err != nil || resp.StatusCode != http.StatusOK {
			b.Fatalf("%v %s", err, resp.Status)
		}
		resp.Body.Close()
		first += time.Since(start)
		cmd.Process.Signal(os.Interrupt)
		cmd.Wait()
	}
	b.ReportMetric(float64(first.Milliseconds())/float64(b.N), "ms/first-page")
}
