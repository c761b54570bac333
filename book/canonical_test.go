package book

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func TestCanonicalExamplesOfRFC8785(t *testing.T) {
	for _, c := range []struct{ section, in, want string }{
		{"3.2.2", `{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}`, `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`},
		{"3.2.3", `{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}`,
			"{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\",\"€\":\"Euro Sign\",\"😀\":\"Emoji: Grinning Face\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}"},
	} {
		got, err := Canonical([]byte(c.in), 8)
		if err != nil || string(got) != c.want {
			t.Errorf("RFC 8785 §%s: got %s, %v\nwant %s", c.section, got, err, c.want)
		}
	}
}

func TestCanonicalNumbersOfRFC8785(t *testing.T) {
	// RFC 8785, Appendix B: the bits of the double and how it is written.
	for bits, want := range map[uint64]string{
		0x0000000000000000: "0", 0x8000000000000000: "0", 0x0000000000000001: "5e-324", 0x8000000000000001: "-5e-324",
		0x7fefffffffffffff: "1.7976931348623157e+308", 0xffefffffffffffff: "-1.7976931348623157e+308",
		0x4340000000000000: "9007199254740992", 0xc340000000000000: "-9007199254740992", 0x4430000000000000: "295147905179352830000",
		0x44b52d02c7e14af5: "9.999999999999997e+22", 0x44b52d02c7e14af6: "1e+23", 0x44b52d02c7e14af7: "1.0000000000000001e+23",
		0x444b1ae4d6e2ef4e: "999999999999999700000", 0x444b1ae4d6e2ef4f: "999999999999999900000", 0x444b1ae4d6e2ef50: "1e+21",
		0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7", 0x3eb0c6f7a0b5ed8d: "0.000001",
		0x41b3de4355555553: "333333333.3333332", 0x41b3de4355555554: "333333333.33333325", 0x41b3de4355555555: "333333333.3333333",
		0x41b3de4355555556: "333333333.3333334", 0x41b3de4355555557: "333333333.33333343",
		0xbecbf647612f3696: "-0.0000033333333333333333", 0x43143ff3c1cb0959: "1424953923781206.2",
	} {
		f := math.Float64frombits(bits)
		text := strconv.FormatFloat(f, 'e', -1, 64)
		if got, err := Canonical([]byte(text), 0); err != nil || string(got) != want {
			t.Errorf("%s: got %s, %v, want %s", text, got, err, want)
		}
	}
}

func TestCanonicalRefusesWhatReadersMayReadDifferently(t *testing.T) {
	for in, why := range map[string]string{
		`{"a":1,"a":2}`: "twice", `{"a":{"b":1,"\u0062":2}}`: "twice", "\"\xff\"": "UTF-8", "\"\xed\xa0\x80\"": "UTF-8",
		`"\ud800"`: "surrogate", `"\ud800\u0041"`: "surrogate", `"\udc00\ud800"`: "surrogate", `"\x41"`: "escape", `"\u12g4"`: "escape", `"\u12`: "escape",
		"\"a\nb\"": "control", `"abc`: "without an end", `"abc\`: "without an end", `01`: "after the end", `-`: "not a number", `1.`: "digit", `1e`: "digit", `+1`: "not a JSON", `.5`: "not a JSON",
		`NaN`: "not a JSON", `1e400`: "exactly", `-1e400`: "exactly", `1e-400`: "exactly", `9007199254740993`: "exactly", `123456789012345678901234567890`: "exactly",
		`[1,]`: "not a JSON", `[1 2]`: "comma", `{"a" 1}`: "colon", `{"a":1,}`: "quotes", `{a:1}`: "quotes", `{"a":1`: "comma", ``: "too early", ` `: "too early", `{} {}`: "after the end", `tru`: "not a JSON",
		strings.Repeat("[", 9) + strings.Repeat("]", 9): "deeply", strings.Repeat("[", 1_000_000): "deeply", "\ufeff{}": "not a JSON",
	} {
		got, err := Canonical([]byte(in), 8)
		if err == nil || !errors.Is(err, ErrBadInput) || !strings.Contains(err.Error(), why) {
			t.Errorf("%.40q: got %s, %v; want an error about %q", in, got, err, why)
		}
	}
	if _, err := Canonical([]byte(strings.Repeat("[", 8)+strings.Repeat("]", 8)), 8); err != nil {
		t.Error(err)
	}
}

// A damaged byte must change the hash, even where the replacement character stood for it.
func TestHashTellsDamagedTextFromReplacement(t *testing.T) {
	if HashEvent(Event{Who: "Ada \xff"}) == HashEvent(Event{Who: "Ada \ufffd"}) {
		t.Error("bytes that are not UTF-8 hash as U+FFFD")
	}
}

// FuzzCanonical compares with the standard library, which reads the same values and writes numbers and most strings as
// RFC 8785 does.
func FuzzCanonical(f *testing.F) {
	for _, s := range []string{`{"b":[1,2.50,-0,1e21],"a":{"\u20ac":"\ud83d\ude00"}}`, `{"a":1,"a":2}`, `[1e400]`, `"\ud800"`, ` [ ] `, `9007199254740993`, `{"\ufb33":1,"\ud83d\ude00":2}`, `[true,false,null]`, `0.000001`, `1e-7`} {
		f.Add([]byte(s))
	}
	beyond := func(r rune) bool { return r > 0xffff || r == '\u2028' || r == '\u2029' } // sorted or escaped otherwise there
	f.Fuzz(func(t *testing.T, in []byte) {
		got, err := Canonical(in, 100)
		if err != nil {
			known := func(why string) bool { return strings.Contains(err.Error(), why) }
			if json.Valid(in) && !slices.ContainsFunc([]string{"exactly", "deeply", "twice", "surrogate", "UTF-8"}, known) {
				t.Fatalf("refused %q (%v), another reader takes it", in, err)
			}
			return
		}
		var want, value any
		if err := errors.Join(json.Unmarshal(in, &want), json.Unmarshal(got, &value)); err != nil || !reflect.DeepEqual(value, want) {
			t.Fatalf("made %s of %q: another value, %v", got, in, err)
		}
		var other bytes.Buffer
		w := json.NewEncoder(&other)
		w.SetEscapeHTML(false)
		if err := w.Encode(value); err != nil || !bytes.ContainsFunc(got, beyond) && other.String() != string(got)+"\n" {
			t.Fatalf("%q: got %s, another writer makes %s, %v", in, got, &other, err)
		}
		if again, err := Canonical(got, 100); err != nil || !bytes.Equal(again, got) {
			t.Fatalf("%s is not its own canonical form: %s, %v", got, again, err)
		}
	})
}
