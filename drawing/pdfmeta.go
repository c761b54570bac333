package drawing

import (
	"cmp"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"math"
	"path"
	"slices"
	"strings"
	"sync"
)

const producer = "Phasewright"

// info adds what the file says of itself, for readers (Info) and for archives (XMP), and gives both numbers.
func (doc Document) info(f *pdfOut) (info, xmp int) {
	var plain, rich strings.Builder
	say := func(key, text, format string) {
		if text = letters(text); text == "" {
			return
		}
		plain.WriteString(" /" + key + " " + pdfTextString(text))
		var b strings.Builder
		xml.EscapeText(&b, []byte(text)) // a Builder does not fail
		fmt.Fprintf(&rich, format+"\n", b.String())
	}
	say("Title", doc.Title, `<dc:title><rdf:Alt><rdf:li xml:lang="x-default">%s</rdf:li></rdf:Alt></dc:title>`)
	say("Author", doc.Author, `<dc:creator><rdf:Seq><rdf:li>%s</rdf:li></rdf:Seq></dc:creator>`)
	say("Subject", doc.Subject,
		`<dc:description><rdf:Alt><rdf:li xml:lang="x-default">%s</rdf:li></rdf:Alt></dc:description>`)
	say("Keywords", doc.Keywords, `<pdf:Keywords>%s</pdf:Keywords>`)
	say("Producer", producer, `<pdf:Producer>%s</pdf:Producer>`)
	if !doc.Date.IsZero() {
		at := doc.Date.UTC()
		date := at.Format("(D:20060102150405Z)")
		plain.WriteString(" /CreationDate " + date + " /ModDate " + date)
		for _, key := range []string{"CreateDate", "ModifyDate", "MetadataDate"} {
			fmt.Fprintf(&rich, "<xmp:%s>%s</xmp:%[1]s>\n", key, at.Format("2006-01-02T15:04:05Z"))
		}
	}
	// ISO 16684-1; which standard the file keeps: ISO 19005-3, 6.6.4, from memory
	packet := "<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
		`<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">` +
		`<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" ` +
		`xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" ` +
		`xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">` + "\n" +
		"<pdfaid:part>3</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance>\n" + rich.String() +
		"</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"r\"?>"
	return f.add("<<%s>>", strings.TrimSpace(plain.String())), f.stream("/Type /Metadata /Subtype /XML", []byte(packet))
}

// attach adds the files that the document carries and gives the entries of the catalogue for them (ISO 32000-1, 7.11.4;
// ISO 19005-3, 6.8, from memory).
func (doc Document) attach(f *pdfOut) string {
	type file struct {
		name   string
		number int
	}
	var files []file
	var all []int
	for _, a := range doc.Attachments {
		name, desc := letters(a.Name), letters(a.Desc)
		params := fmt.Sprintf("/Size %d", len(a.Data))
		if !doc.Date.IsZero() {
			params += doc.Date.UTC().Format(" /ModDate (D:20060102150405Z)")
		}
		kind := mimeOf(name)
		entries := fmt.Sprintf("/Type /EmbeddedFile /Subtype /%s /Params <<%s>>",
			strings.ReplaceAll(kind, "/", "#2F"), params)
		add := f.packed
		if kind == "application/zip" {
			add = f.stream // it is packed already
		}
		data := add(entries, a.Data)
		text := pdfTextString(name)
		spec := fmt.Sprintf("<</Type /Filespec /F %s /UF %[1]s /EF <</F %d 0 R /UF %[2]d 0 R>> /AFRelationship /%s",
			text, data, cmp.Or(a.Relation, IsData))
		if desc != "" {
			spec += " /Desc " + pdfTextString(desc)
		}
		number := f.add("%s>>", spec)
		all = append(all, number)
		files = append(files, file{text, number})
	}
	if len(files) == 0 {
		return ""
	}
	slices.SortStableFunc(files, func(a, b file) int { return strings.Compare(a.name, b.name) })
	var names strings.Builder
	for _, x := range files {
		fmt.Fprintf(&names, "%s %d 0 R ", x.name, x.number)
	}
	return fmt.Sprintf(" /AF [%s] /Names <</EmbeddedFiles <</Names [%s]>>>>", pdfRefs(all), names.String())
}

// mimes are the media types of what papers carry (IANA; YAML by RFC 9512, CSV by RFC 7111).
var mimes = map[string]string{".json": "application/json", ".csv": "text/csv", ".yaml": "application/yaml",
	".yml": "application/yaml", ".zip": "application/zip", ".txt": "text/plain", ".png": "image/png",
	".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".svg": "image/svg+xml", ".pdf": "application/pdf"}

func mimeOf(name string) string {
	return cmp.Or(mimes[strings.ToLower(path.Ext(name))], "application/octet-stream")
}

// intent adds the meaning of the colours, which are those of sRGB, and gives the entry of the catalogue.
func intent(f *pdfOut) string {
	profile := f.packed("/N 3", srgb())
	return fmt.Sprintf(" /OutputIntents [<</Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier "+
		"(sRGB IEC61966-2.1) /Info (sRGB IEC61966-2.1) /DestOutputProfile %d 0 R>>]", profile)
}

// xyz is a colour by CIE 1931.
type xyz [3]float64

// The white of profiles (D50, ICC.1:2010, 7.2.16) and the primaries and white of sRGB (IEC 61966-2-1, table 1), as
// chromaticities.
var (
	d50       = xyz{0.9642, 1, 0.8249}
	srgbWhite = [2]float64{0.3127, 0.3290}
	srgbRGB   = [3][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}
)

type matrix3 [3]xyz // rows

// bradford turns colours into responses of the eye (ICC.1:2010, annex E).
var bradford = matrix3{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}

func (m matrix3) of(v xyz) (out xyz) {
	for i := range 3 {
		out[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return out
}

func (m matrix3) times(n matrix3) (out matrix3) {
	for i := range 3 {
		for k := range 3 {
			out[i][k] = m[i][0]*n[0][k] + m[i][1]*n[1][k] + m[i][2]*n[2][k]
		}
	}
	return out
}

func (m matrix3) inverse() (out matrix3) {
	minor := func(i, k int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (k+1)%3, (k+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	det := m[0][0]*minor(0, 0) + m[0][1]*minor(0, 1) + m[0][2]*minor(0, 2)
	for i := range 3 {
		for k := range 3 {
			out[k][i] = minor(i, k) / det
		}
	}
	return out
}

func chromatic(xy [2]float64) xyz { return xyz{xy[0] / xy[1], 1, (1 - xy[0] - xy[1]) / xy[1]} }

// adapted gives the three primaries of sRGB as seen under D50, and the matrix that brings them there.
func adapted() (rgb [3]xyz, chad matrix3) {
	white := chromatic(srgbWhite)
	var m matrix3 // columns are the primaries
	for k, xy := range srgbRGB {
		c := chromatic(xy)
		for i := range 3 {
			m[i][k] = c[i]
		}
	}
	scale := m.inverse().of(white)
	from, to := bradford.of(white), bradford.of(d50)
	chad = bradford.inverse().times(matrix3{{to[0] / from[0], 0, 0}, {0, to[1] / from[1], 0}, {0, 0, to[2] / from[2]}}).
		times(bradford)
	for k := range 3 {
		rgb[k] = chad.of(xyz{m[0][k] * scale[k], m[1][k] * scale[k], m[2][k] * scale[k]})
	}
	return rgb, chad
}

// srgb is a display profile of sRGB, version 4 (ICC.1:2010): primaries, white and the curve of IEC 61966-2-1.
var srgb = sync.OnceValue(func() []byte {
	be := binary.BigEndian
	fixed := func(b []byte, values ...float64) []byte { // s15Fixed16Number
		for _, v := range values {
			b = be.AppendUint32(b, uint32(int32(math.Round(v*65536))))
		}
		return b
	}
	text := func(s string) []byte { // multiLocalizedUnicodeType with one text
		b := be.AppendUint32([]byte("mluc\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x0cenGB"), uint32(2*len(s)))
		b = be.AppendUint32(b, 28) // where it begins
		for _, c := range []byte(s) {
			b = append(b, 0, c)
		}
		return b
	}
	rgb, chad := adapted()
	// parametricCurveType 3: (a·x + b)^g from d on, c·x below
	curve := fixed([]byte("para\x00\x00\x00\x00\x00\x03\x00\x00"), 2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045)
	type tag struct {
		name string
		data []byte
	}
	colour := func(c xyz) []byte { return fixed([]byte("XYZ \x00\x00\x00\x00"), c[0], c[1], c[2]) }
	tags := []tag{{"desc", text("sRGB IEC61966-2.1")}, {"cprt", text("No copyright, use freely")},
		{"wtpt", colour(d50)},
		{"rXYZ", colour(rgb[0])}, {"gXYZ", colour(rgb[1])}, {"bXYZ", colour(rgb[2])},
		{"rTRC", curve}, {"gTRC", curve}, {"bTRC", curve},
		{"chad", fixed([]byte("sf32\x00\x00\x00\x00"), slices.Concat(chad[0][:], chad[1][:], chad[2][:])...)}}
	body := be.AppendUint32(nil, uint32(len(tags)))
	var data []byte
	const head = 128
	first := head + 4 + 12*len(tags)
	var before []byte // the curve stands once
	for _, t := range tags {
		if string(before) != string(t.data) {
			for len(data)%4 != 0 {
				data = append(data, 0)
			}
			before = t.data
			data = append(data, t.data...)
		}
		body = append(body, t.name...)
		body = be.AppendUint32(body, uint32(first+len(data)-len(t.data)))
		body = be.AppendUint32(body, uint32(len(t.data)))
	}
	for len(data)%4 != 0 {
		data = append(data, 0)
	}
	out := make([]byte, head)
	be.PutUint32(out, uint32(head+len(body)+len(data)))
	be.PutUint32(out[8:], 0x04300000) // version 4.3
	copy(out[12:], "mntrRGB XYZ ")
	for i, v := range []uint16{2010, 1, 1} { // the date of the standard: the file must not change from day to day
		be.PutUint16(out[24+2*i:], v)
	}
	copy(out[36:], "acsp")
	copy(out[68:], fixed(nil, d50[0], d50[1], d50[2]))
	return append(append(out, body...), data...)
})
