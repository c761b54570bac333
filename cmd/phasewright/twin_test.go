package main

import (
	"bytes"
	"compress/zlib"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"phasewright/book"
)

// peakOf runs the program as a process of its own and gives its largest memory in MiB, what it printed and whether
// it ended well.
func peakOf(t *testing.T, args ...string) (mib int, printed string, err error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "peak")
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), "PHASEWRIGHT_PEAK="+file)
	out, err := cmd.CombinedOutput()
	about, readErr := os.ReadFile(file)
	_, rest, found := strings.Cut(string(about), "VmHWM:")
	if readErr != nil || !found {
		t.Fatalf("no peak memory to be had: %v, %s", readErr, out)
	}
	kib := 0
	fmt.Sscan(rest, &kib)
	return kib >> 10, string(out), err
}

// A PDF of any kind costs `book import` at most 64 MiB, measured on the whole process; a proof saved again by
// another program is still read.
func TestImportOfPDFsTakesLittleMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: memory while large files are read")
	}
	if runtime.GOOS != "linux" {
		t.Skip("SKIPPED: no /proc on this system, so memory was NOT measured")
	}
	dir := t.TempDir()
	shop, proof := filepath.Join(dir, "shop.book"), filepath.Join(dir, "proof.pdf")
	b, err := book.Open(context.Background(), shop, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := demoJob(context.Background(), b); err != nil {
		t.Fatal(err)
	}
	jobs, err := b.Jobs(context.Background(), book.Query{})
	if err != nil || len(jobs.Jobs) == 0 {
		t.Fatal(err)
	}
	name := jobs.Jobs[0].Name
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if _, out, err := peakOf(t, "report", name, "--book", shop, "--pdf", proof); err == nil {
		t.Fatal(out, "a job that is not shown whole ended as a pass")
	}
	saved := map[string]string{"as printed": proof}
	if _, err := exec.LookPath("qpdf"); err == nil {
		again := filepath.Join(dir, "again.pdf")
		if out, err := exec.Command("qpdf", "--object-streams=generate", "--linearize", proof,
			again).CombinedOutput(); err != nil {
			t.Fatalf("%v %s", err, out)
		}
		saved["saved again"] = again
	} else if os.Getenv("CI") != "" {
		t.Fatal("qpdf is not installed")
	} else {
		t.Log("NOT CHECKED: qpdf is not installed")
	}
	for how, file := range saved {
		target := filepath.Join(dir, how+".book")
		b, err := book.Open(context.Background(), target, book.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		mib, out, err := peakOf(t, "book", "import", "--book", target, file)
		if err != nil || !strings.Contains(out, "version 0 -> ") || mib > 64 {
			t.Errorf("%s: %d MiB, %v, %s", how, mib, err, out)
		}
		t.Logf("%s: %d MiB", how, mib)
	}
	for how, data := range bombs() {
		file := filepath.Join(dir, "bomb.pdf")
		if err := os.WriteFile(file, data, 0o644); err != nil {
			t.Fatal(err)
		}
		mib, out, err := peakOf(t, "book", "import", "--book", shop, file)
		if err == nil || !strings.HasPrefix(out, "error: ") || !strings.Contains(out, "export") || mib > 64 {
			t.Errorf("%s: %d MiB, %v, %s", how, mib, err, out)
		}
		t.Logf("%s: %d bytes, %d MiB: %s", how, len(data), mib, out)
	}
}

// bombs are small PDFs, invented, that grow when they are unpacked: the attachment, the cross-reference, a stream of
// objects.
func bombs() map[string][]byte {
	pack := func(size int, before string) string {
		var b bytes.Buffer
		z := zlib.NewWriter(&b)
		z.Write([]byte(before))
		z.Write(make([]byte, size))
		z.Close()
		return b.String()
	}
	const head = "%PDF-1.7\n"
	object := func(number int, dict, data string) string {
		return fmt.Sprintf("%d 0 obj\n<< /Length %d /Filter /FlateDecode %s >>\nstream\n%s\nendstream\nendobj\n",
			number, len(data), dict, data)
	}
	end := func(start int) string { return fmt.Sprintf("startxref\n%d\n%%%%EOF\n", start) }

	first := head + "1 0 obj\n" +
		"<< /Names << /EmbeddedFiles << /Names [(a) << /UF (job.zip) /EF << /F 2 0 R >> >>] >> >> >>\nendobj\n"
	attachment := first + object(2, "", pack(256<<20, ""))
	table := fmt.Sprintf("xref\n0 3\n0000000000 65535 f \n%010d 00000 n \n%010d 00000 n \n"+
		"trailer\n<< /Root 1 0 R /Size 3 >>\n", len(head), len(first))

	reference := head + object(1, "/Type /XRef /W [1 4 2] /Size 30000000 /Root 2 0 R", pack(30_000_000*7, ""))

	objects := head + object(2, "/Type /ObjStm /N 1 /First 4", pack(256<<20, "1 0 "))
	// the catalog is in object 2, which stands at 9
	rows := "\x00\x00\x00\x00\x00\x00\x00" + "\x02\x00\x00\x00\x02\x00\x00" + "\x01\x00\x00\x00\x09\x00\x00"
	within := objects + object(3, "/Type /XRef /W [1 4 2] /Size 3 /Root 1 0 R", pack(0, rows))
	return map[string][]byte{
		"attachment":        []byte(attachment + table + end(len(attachment))),
		"cross-reference":   []byte(reference + end(len(head))),
		"stream of objects": []byte(within + end(len(objects))),
	}
}
