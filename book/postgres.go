package book
import ("context";"errors")
func InPostgres(string) bool {return false}
func isPostgres(error) bool {return false}
var ErrAway = errors.New("x")
type postgres struct{ oneFile; name string}
func newPostgres(string) (*postgres, error) { return nil, nil }
var _ = context.Background
