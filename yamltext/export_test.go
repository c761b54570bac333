package yamltext

// WithinBounds says whether the library sees the text.
func WithinBounds(data []byte, k Kind) bool {
	t, data := open("", data, k)
	return len(t.Faults) == 0 && data != nil
}
