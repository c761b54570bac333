package drawing

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

// attached reads the file out of a PDF in memory.
func attached(data []byte, name string) ([]byte, error) {
	r, err := Attached(bytes.NewReader(data), int64(len(data)), name)
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(r, 1<<20))
}

// What goes into a PDF comes out of it again, also after other programs have saved it in the ways that they know.
func TestAttachedComesOut(t *testing.T) {
	data, err := PDF(allPages(t))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	name := filepath.Join(dir, "all.pdf")
	if err := os.WriteFile(name, data, 0o644); err != nil {
		t.Fatal(err)
	}
	again := filepath.Join(dir, "again.pdf")
	for _, saved := range [][]string{
		nil,
		{"qpdf", "--object-streams=generate", name, again},
		{"qpdf", "--object-streams=generate", "--linearize", name, again},
		{"qpdf", "--object-streams=disable", "--linearize", name, again},
		{"qpdf", "--object-streams=disable", "--stream-data=uncompress", name, again},
		{"qpdf", "--qdf", name, again},
		{"qpdf", "--recompress-flate", "--compression-level=9", "--object-streams=generate", "--remove-unreferenced-resources=yes", name, again},
		{"mutool", "clean", name, again},
		{"mutool", "clean", "-z", "-gggg", name, again},
		{"mutool", "clean", "-d", "-g", name, again},
	} {
		pdf := data
		if saved != nil {
			run(t, saved[0], saved[1:]...)
			if pdf, err = os.ReadFile(again); err != nil {
				t.Fatal(err)
			}
		}
		for file, want := range map[string]string{"job.json": `{"offset_deg":1.9}`, "lesung ä.csv": "rpm,shown_deg\n"} {
			if got, err := attached(pdf, file); err != nil || string(got) != want {
				t.Errorf("%v: %s came out as %q, %v", saved, file, got, err)
			}
		}
		if _, err := attached(pdf, "job.zip"); !errors.Is(err, ErrNotAttached) {
			t.Errorf("%v: a file that is not there: %v", saved, err)
		}
	}
	run(t, "qpdf", "--encrypt", "", "owner", "256", "--", name, again)
	if pdf, err := os.ReadFile(again); err != nil {
		t.Fatal(err)
	} else if _, err := attached(pdf, "job.json"); err == nil || !strings.Contains(err.Error(), "encrypted") {
		t.Errorf("an encrypted file: %v", err)
	}
}

// pack compresses as PDF does.
func pack(data []byte) []byte {
	var b bytes.Buffer
	z := zlib.NewWriter(&b)
	z.Write(data)
	z.Close()
	return b.Bytes()
}

// handmade is a PDF of objects with a table, in which object 1 is the catalog and the objects stand as they are
// given.
func handmade(objects ...string) []byte {
	var b bytes.Buffer
	b.WriteString("%PDF-1.7\n")
	var at []int
	for i, o := range objects {
		at = append(at, b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", i+1, o)
	}
	start := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, x := range at {
		fmt.Fprintf(&b, "%010d 00000 n \n", x)
	}
	fmt.Fprintf(&b, "trailer\n<< /Root 1 0 R /Size %d >>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, start)
	return b.Bytes()
}

func stream(dict string, data []byte) string {
	return fmt.Sprintf("<< /Length %d %s >>\nstream\n%s\nendstream", len(data), dict, data)
}

const catalog = "<< /Type /Catalog /Names << /EmbeddedFiles << /Names [(a) 2 0 R] >> >> >>"

// inStream is a PDF with a cross-reference stream, in which the catalog is to be found in a stream of objects.
func inStream(table, objects []byte, dictTable, dictObjects string) []byte {
	var b bytes.Buffer
	b.WriteString("%PDF-1.7\n")
	fmt.Fprintf(&b, "2 0 obj\n%s\nendobj\n", stream("/Type /ObjStm /Filter /FlateDecode "+dictObjects, objects))
	start := b.Len()
	fmt.Fprintf(&b, "3 0 obj\n%s\nendobj\nstartxref\n%d\n%%%%EOF\n", stream("/Type /XRef /Filter /FlateDecode /W [1 4 2] /Root 1 0 R "+dictTable, table), start)
	return b.Bytes()
}

func row(kind byte, at uint32, index uint16) []byte {
	b := binary.BigEndian.AppendUint32([]byte{kind}, at)
	return binary.BigEndian.AppendUint16(b, index)
}

// hostilePDFs are PDFs that would cost a careless reader memory or time; n says how large they are. All are invented.
func hostilePDFs(n int) map[string][]byte {
	three := append(append(row(0, 0, 0), row(2, 2, 0)...), row(1, 9, 0)...)
	many := bytes.Repeat(row(1, 9, 0), 4*n)
	spec := "<< /Type /Filespec /UF (job.zip) /EF << /F 3 0 R >> >>"
	deepTree := []string{"<< /Type /Catalog /Names << /EmbeddedFiles 2 0 R >> >>"}
	for i := range min(n, 300) {
		deepTree = append(deepTree, fmt.Sprintf("<< /Kids [%d 0 R] >>", i+3))
	}
	var chain bytes.Buffer
	chain.WriteString("%PDF-1.7\n")
	last := 0
	for i := range min(n, 5000) {
		at := chain.Len()
		fmt.Fprintf(&chain, "xref\n%d 1\n0000000009 00000 n \ntrailer\n<< /Root 1 0 R /Prev %d >>\n", i, last)
		last = at
	}
	fmt.Fprintf(&chain, "startxref\n%d\n", last)
	return map[string][]byte{
		"inflate bomb in the attachment": handmade(catalog, spec, stream("/Filter /FlateDecode", pack(make([]byte, 100*n)))),
		"bomb in a stream of objects":    inStream(pack(three), pack(bytes.Repeat([]byte(" "), 64*n)), "/Size 3", "/N 1 /First 4"),
		"bomb in the cross-reference":    inStream(pack(many), pack([]byte("1 0 "+catalog)), fmt.Sprint("/Size ", 4*n), "/N 1 /First 4"),
		"numbers in a stream of objects": inStream(pack(three), pack([]byte("1 0 ["+strings.Repeat("/a", 2*n)+"]")), "/Size 3", "/N 1 /First 4"),
		"objects in a stream of objects": inStream(pack(three), pack([]byte(strings.Repeat("9 0 ", n-1)+"1 0 ")), "/Size 3", "/N 1000000000 /First 4"),
		"long table":                     bytes.Replace(handmade(catalog, "<<>>"), []byte("0000000000 65535 f \n"), bytes.Repeat([]byte("0000000000 65535 f \n"), 3*n), 1),
		"table that says it is long":     bytes.Replace(handmade(catalog, "<<>>"), []byte("0 3\n"), []byte("0 99999999999999\n"), 1),
		"deep brackets":                  handmade(catalog, strings.Repeat("[", 8*n)),
		"deep dictionaries":              handmade(catalog, strings.Repeat("<</a", 8*n)),
		"long list":                      handmade(catalog, "["+strings.Repeat("/a", 8*n)+"]"),
		"long dictionary":                handmade(catalog, "<<"+strings.Repeat("/a 1", 4*n)+">>"),
		"long string":                    handmade(catalog, "("+strings.Repeat("a", 32*n)+")"),
		"long name":                      handmade(catalog, "/"+strings.Repeat("#61", 8*n)),
		"deep tree":                      handmade(deepTree...),
		"tree in a ring":                 handmade("<< /Names << /EmbeddedFiles 2 0 R >> >>", "<< /Kids [2 0 R 2 0 R 2 0 R] >>"),
		"reference in a ring":            handmade("<< /Names 2 0 R >>", "3 0 R", "2 0 R"),
		"length in a ring":               handmade(catalog, spec, "<< /Length 3 0 R >>\nstream\nx\nendstream"),
		"length beyond the end":          handmade(catalog, spec, "<< /Length 999999999999 >>\nstream\nx\nendstream"),
		"sections in a chain":            chain.Bytes(),
		"section in a ring":              bytes.Replace(handmade(catalog, "<<>>"), []byte("/Size"), []byte("/Prev 100 /Size"), 1),
		"rows again and again":           inStream(pack(bytes.Repeat(row(1, 9, 0), 20*n)), pack([]byte("1 0 "+catalog)), "/Size 3 /Index ["+strings.Repeat("0 9 ", 6000)+"]", "/N 1 /First 4"),
		"sections over one table":        sections(n),
		"no end":                         []byte("%PDF-1.7\nnothing here"),
		"nothing behind the end":         []byte("%PDF-1.7\nstartxref"),
	}
}

// sections is a PDF with a long table that a chain of sections reads again and again.
func sections(n int) []byte {
	var b bytes.Buffer
	b.WriteString("%PDF-1.7\n")
	last := 0
	for range min(n, 190) {
		at := b.Len()
		fmt.Fprintf(&b, "xref\n0 0\ntrailer\n<< /Root 1 0 R /Prev %d >>\n", last)
		last = at
	}
	start := b.Len()
	lines := strings.Repeat("0000000000 65535 f \n", n/64)
	fmt.Fprintf(&b, "xref\n0 %d\n%strailer\n<< /Root 1 0 R /Prev %d >>\nstartxref\n%d\n", n/64, lines, last, start)
	return b.Bytes()
}

// A hostile PDF is refused, or its attachment handed on while it is read, in little memory and time.
func TestHostilePDFs(t *testing.T) {
	for name, data := range hostilePDFs(256 << 10) {
		start := time.Now()
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		r, err := Attached(bytes.NewReader(data), int64(len(data)), "job.zip")
		runtime.ReadMemStats(&after)
		if (err == nil) != (name == "inflate bomb in the attachment") || (err == nil) == (r == nil) {
			t.Errorf("%s: %v", name, err)
		}
		if took, mem := time.Since(start), after.TotalAlloc-before.TotalAlloc; took > 5*time.Second || mem > 48<<20 {
			t.Errorf("%s: %v, %d MiB in all", name, took, mem>>20)
		}
	}
}

func FuzzAttached(f *testing.F) {
	for _, data := range hostilePDFs(4) {
		f.Add(data)
	}
	f.Add(handmade(catalog, "<< /UF (job.zip) /EF << /F 3 0 R >> >>", stream("/Filter [/FlateDecode]", pack([]byte("content")))))
	f.Add(handmade("<< /Names << /EmbeddedFiles << /Kids [2 0 R] >> >> >>", "<< /Names [(x) << /UF <FEFF006A006F0062002E007A00690070> /EF << /UF 3 0 R >> >>] >>", stream("", []byte("content"))))
	f.Add(inStream(pack(append(append(row(0, 0, 0), row(2, 2, 0)...), row(1, 9, 0)...)), pack([]byte("1 0 "+catalog)), "/Size 3", "/N 1 /First 4"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Attached(bytes.NewReader(data), int64(len(data)), "job.zip")
		if (r == nil) != (err != nil) {
			t.Fatal("neither content nor error, or both")
		}
		if err == nil {
			io.Copy(io.Discard, io.LimitReader(r, 1<<20))
		}
	})
}

// Values by hand, from the examples of ISO 32000-1, 7.3.4 to 7.3.7, and of our own.
func TestPDFValues(t *testing.T) {
	for text, want := range map[string]string{
		`(Strings may contain balanced (parentheses) .)`: `Strings may contain balanced (parentheses) .`,
		"(two \\\nstrings)":                       "two strings",
		`(\0053 \53 \053 \) \\ \n)`:               "\x053 + + ) \\ \n",
		`<901FA3>`:                                "\x90\x1f\xa3",
		`<90 1F A>`:                               "\x90\x1f\xa0",
		`/Lime#20Green`:                           "Lime Green",
		`/A;Name_With-Various***Characters?`:      "A;Name_With-Various***Characters?",
		`[549 3.14 false /SomeName 12 0 R]`:       "[549 <nil> <nil> SomeName 12]",
		`<</Type/Example % comment` + "\n/V -1>>": "map[Type:Example V:-1]",
	} {
		if got := fmt.Sprint((&pdfText{b: []byte(text + " ")}).value(0)); got != want {
			t.Errorf("%s is read as %q, want %q", text, got, want)
		}
	}
}
