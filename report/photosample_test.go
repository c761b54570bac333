package report

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"testing"
)

// samplePhoto is a picture of 1200 × 800 dots whose camera was held as the orientation says (invented).
func samplePhoto(t testing.TB, orientation uint16) []byte {
	t.Helper()
	im := image.NewRGBA(image.Rect(0, 0, 1200, 800))
	for y := range 800 {
		for x := range 1200 {
			im.SetRGBA(x, y, color.RGBA{uint8(x / 5), uint8(y / 4), 90, 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, im, nil); err != nil {
		t.Fatal(err)
	}
	tiff := []byte("MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01")
	tiff = append(binary.BigEndian.AppendUint16(tiff, orientation), 0, 0, 0, 0, 0, 0)
	exif := append([]byte("Exif\x00\x00"), tiff...)
	part := append(binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(len(exif)+2)), exif...)
	return append(append([]byte{0xff, 0xd8}, part...), b.Bytes()[2:]...)
}

func zipped(t testing.TB, name string, data []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	f, err := w.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func readAll(t testing.TB, file string) []byte {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return data
}
