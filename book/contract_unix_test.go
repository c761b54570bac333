//go:build unix

package book

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"phasewright/book/pgtest"
)

// contract is every test that is about the book, whichever base it lies on.
var contract = map[string]func(*testing.T){
	"TheListTellsBaysHandsAndWork":                 TestTheListTellsBaysHandsAndWork,
	"ConflictSaysWhatChanged":                      TestConflictSaysWhatChanged,
	"AResentEventIsNotDoubled":                     TestAResentEventIsNotDoubled,
	"FiftyClientsLoseNoUpdate":                     TestFiftyClientsLoseNoUpdate,
	"RefusalsLeaveTheirNeighboursAlone":            TestRefusalsLeaveTheirNeighboursAlone,
	"BadDraftsAreRefused":                          TestBadDraftsAreRefused,
	"NamesOfEveryKindComeBackUnchanged":            TestNamesOfEveryKindComeBackUnchanged,
	"ATimeThatJumpsBackIsFlaggedAndNeverReordered": TestATimeThatJumpsBackIsFlaggedAndNeverReordered,
	"DerivedTablesAgreeHoweverTheyWereMade":        TestDerivedTablesAgreeHoweverTheyWereMade,
	"JobIDsComeFromTheGivenSource":                 TestJobIDsComeFromTheGivenSource,
	"JobWithWhatFollows":                           TestJobWithWhatFollows,
	"BackupWhileInUseAndRestore":                   TestBackupWhileInUseAndRestore,
	"JobFromStartToProof":                          TestJobFromStartToProof,
	"ExportAndImportBringAJobOverWhole":            TestExportAndImportBringAJobOverWhole,
	"HostileImportsAreRefusedAndLeaveNothing":      TestHostileImportsAreRefusedAndLeaveNothing,
	"AnImportWhoseStartKeyIsTaken":                 TestAnImportWhoseStartKeyIsTaken,
	"AnImportGivenUpLeavesNothing":                 TestAnImportGivenUpLeavesNothing,
	"AnExportCanBeVerifiedByAnotherProgram":        TestAnExportCanBeVerifiedByAnotherProgram,
	"ImportIsJudged":                               TestImportIsJudged,
	"MergingTwoBooks":                              TestMergingTwoBooks,
	"AFileThrownAway":                              TestAFileThrownAway,
	"ExportsFitTheSchema":                          TestExportsFitTheSchema,
	"SearchFindsJobsByAnyWord":                     TestSearchFindsJobsByAnyWord,
	"SearchFollowsWhatIsRecorded":                  TestSearchFollowsWhatIsRecorded,
	"PagesShowEveryJobOnce":                        TestPagesShowEveryJobOnce,
	"ReadersSearchSeesNewJobs":                     TestReadersSearchSeesNewJobs,
	"SearchForgivesHowAWordIsWritten":              TestSearchForgivesHowAWordIsWritten,
	"LeafingFindsWhatTheIndexFinds":                TestLeafingFindsWhatTheIndexFinds,
	"TheVocabularyForgets":                         TestTheVocabularyForgets,
	"AnImportedJobStandsAtTheTimeOfItsWork":        TestAnImportedJobStandsAtTheTimeOfItsWork,
	"ShopList":                                     TestShopList,
	"AttachmentsComeBackAndAreKeptOnce":            TestAttachmentsComeBackAndAreKeptOnce,
	"ARefusedAttachmentLeavesNothing":              TestARefusedAttachmentLeavesNothing,
	"AnAttachmentSentAgainWithItsKey":              TestAnAttachmentSentAgainWithItsKey,
	"ManySendTheSameFilesAtOnce":                   TestManySendTheSameFilesAtOnce,
	"SubscribersHearOfEveryCommit":                 TestSubscribersHearOfEveryCommit,
	"ASlowSubscriberHoldsNobodyUpAndIsTold":        TestASlowSubscriberHoldsNobodyUpAndIsTold,
	"AClosedBookSaysSo":                            TestAClosedBookSaysSo,
	"TheWholeBookForASpreadsheet":                  TestTheWholeBookForASpreadsheet,
	"ARefusalTakesBackItsOwnWritesOnly":            TestARefusalTakesBackItsOwnWritesOnly,
	"ABrokenInvariantIsItsRequestsOwn":             TestABrokenInvariantIsItsRequestsOwn,
	"ABrokenWriterKeepsNobodyWaiting":              TestABrokenWriterKeepsNobodyWaiting,
	"ReadersSeeWholeSetsOnly":                      TestReadersSeeWholeSetsOnly,
	"CheckingTwiceRaisesNoFalseAlarm":              TestCheckingTwiceRaisesNoFalseAlarm,
	"MergingRefusesWhatIsNotSound":                 TestMergingRefusesWhatIsNotSound,
}

// fileOnly are the tests that are about the one file, or about no book at all, by the reason.
var fileOnly = map[string]string{}

func init() {
	for _, g := range [][2]string{
		{"it makes and spoils SQLite's own file, its pages, names or locks",
			`BackupAndRestoreNeverWriteOverAnything ADamagedBackupIsNotRestored
			ACopyOfTheFileOfABookInUseSaysThatItLacksEntries ABookFromANewerReleaseIsLeftAlone
			FilesThatAreNotBooksAreLeftAlone PathsWithOddCharacters ADamagedPageIsNamedAndTheRestCanBeRead
			ADamagedBookTakesNoMoreEvents WhatCannotBeReadMakesTheBookReadOnly
			ADamagedJobListIsSavedByRestore ARescueDoesNotHideLostEvents ALostTableIsDamage
			ADamagedHeadAndACutFile ChangedBytesThatSQLiteCannotSeeBreakTheChain ALinkedBookIsTheSameBook
			ALinkThatLeadsInCirclesIsRefused AHardLinkIsNoSecondBook ALinkedBackupCanBeRead
			TheFileItselfIsLocked ABookThatCannotBeMadeLeavesNothing
			ASecondProgramIsKeptFromWritingAndMayRead`},
		{"it fills or locks the disk under SQLite's file; AFullDiskOfTheCluster fills PostgreSQL's",
			`AFullDatabaseRefusesAndKeepsWhatItHas AReallyFullDisk ADiskFilledWhileTheBookWasClosed
			AFullDiskWithEventsInTheLog NoRoomForANewBook AReadOnlyFolder AFolderThatTurnsReadOnly
			AReadOnlyFileInAWritableFolder AFileMountedTwiceIsOneBook AFileOrFolderThatMayNotBeWritten`},
		{"it begins with files of SQLite's earlier schemas",
			`EveryEarlierSchemaComesUpToDate RestoringABackupOfAnEarlierSchema AFailedStepLeavesTheOldSchema
			KilledWhileUpgrading
			ErasingWhatAnEarlierReleaseHashed`},
		{"no book is opened in it",
			`CanonicalExamplesOfRFC8785 CanonicalNumbersOfRFC8785
			CanonicalRefusesWhatReadersMayReadDifferently HashTellsDamagedTextFromReplacement
			ExportSchemaIsWhatTheTypesSay WholeSchemaIsWhatTheTypesSay FoldingStaysAsStored
			DistanceCountsSlips TheOwnerInACard ABrokenSearchBringsItsPanicHome`},
		{"it looks into the bytes of the file; AForgottenPersonLeavesNoRow looks into the rows",
			`AForgottenPersonLeavesNoByte AnErasureThatBrokeOffIsFinishedAtTheNextOpening
			TheChainIsTheSameWithoutThePerson MergeAndRestoreCarryErasures`},
		{"the driver of PostgreSQL has goroutines of its own, which it ends by itself",
			`ClosingLeavesNoGoroutines`},
		{"it changes rows by SQLite's own ways; EventsCannotBeChanged and CheckFindsWhatWasDone do it in PostgreSQL",
			`CheckSeesPersonalValuesTamperedWith EventsCannotBeChangedByPlainSQL CheckFindsWhatWasDoneBehindItsBack`},
		{"it spoils files in their folder; ADamagedChunkIsFoundAndHealed does so to a chunk",
			`BackupOfABookWithADamagedAttachment CheckFindsDamagedAndMissingAttachmentsAndSendingAgainHeals`},
		{"it kills the one program on a file; KilledServersAndDatabase kills several, and PostgreSQL",
			`KilledBetweenTwoThatBelongTogether KilledAtAnyInstantNothingAcknowledgedIsLost`},
	} {
		for test := range strings.FieldsSeq(g[1]) {
			fileOnly[test] = g[0]
		}
	}
}

func TestContractIsWhole(t *testing.T) {
	files, err := filepath.Glob("*_test.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			test, isTest := "", false
			if ok && fn.Recv == nil {
				test, isTest = strings.CutPrefix(fn.Name.Name, "Test")
			}
			if !isTest || test == "Main" || strings.HasPrefix(name, "contract_") ||
				strings.HasPrefix(name, "postgres_") || strings.HasPrefix(name, "many_") {
				continue
			}
			if _, both := contract[test]; both == (fileOnly[test] != "") {
				t.Errorf("%s: Test%s runs on both bases, or fileOnly says why not", name, test)
			}
		}
	}
}

// TestOnPostgreSQL runs the contract on PostgreSQL: openAt sees by the test's name where the book is to lie.
func TestOnPostgreSQL(t *testing.T) {
	pgtest.Shared(t)
	for name, test := range contract {
		t.Run(name, test)
	}
}

func init() { elsewhere, filesElsewhere, stopped = inCluster, filesInCluster, pgtest.Stop }

// filesInCluster lists contents, half sent ones too, and chunks that no content holds.
func filesInCluster(t testing.TB, path string) ([]string, bool) {
	address := inCluster(t, path)
	if !InPostgres(address) {
		return nil, false
	}
	b, err := Open(t.Context(), address, Options{Access: ReadOnly})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	rows, err := b.read().rows(t.Context(), `SELECT id FROM contents UNION ALL
		SELECT 'a chunk of none' FROM chunks WHERE NOT EXISTS (SELECT 1 FROM pieces WHERE chunk = sha256)`)
	if err != nil {
		t.Fatal(err)
	}
	all, err := collect(rows, scanText)
	if err != nil {
		t.Fatal(err)
	}
	return all, true
}

var schemas struct {
	sync.Mutex
	of map[string]string // by path
}

// inCluster gives the address that stands for a path: each path is a book of its own, made once.
func inCluster(t testing.TB, path string) string {
	if _, err := os.Stat(path); err == nil || !strings.HasPrefix(t.Name(), "TestOnPostgreSQL/") {
		return path // a backup is a file, for one
	}
	if InPostgres(path) { // the name of one that is open says no role
		return strings.Replace(path, "postgres:///", "postgres://"+pgtest.Shop+"@/", 1)
	}
	return madeFor(t, path)
}

func madeFor(t testing.TB, path string) string {
	t.Helper()
	c := pgtest.Shared(t)
	schemas.Lock()
	defer schemas.Unlock()
	if known := schemas.of[path]; known != "" {
		return c.Address(pgtest.Shop, known)
	}
	if schemas.of == nil {
		schemas.of = map[string]string{}
	}
	name := fmt.Sprintf("book%d", len(schemas.of)+1)
	schemas.of[path] = name
	if err := Migrate(t.Context(), c.Address(pgtest.Keeper, name), pgtest.Shop); err != nil {
		t.Fatal(err)
	}
	return c.Address(pgtest.Shop, name)
}
