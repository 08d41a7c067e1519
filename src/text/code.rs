//! The table of codes: every finding has one, with a severity and a page that explains it.
//!
//! Never in here: where a finding is made. Changes when a kind of finding is added.

use super::Severity;

macro_rules! codes {
    ($($variant:ident $name:literal $severity:ident $title:literal;)*) => {
        /// The code of a finding.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $(#[doc = $title] $variant,)*
        }

        impl Code {
            /// All codes, in the order of the table.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The name that is printed and that `explain` takes.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// What it is about, in a line.
            #[must_use]
            pub fn title(self) -> &'static str {
                match self { $(Self::$variant => $title,)* }
            }

            /// How much it matters.
            #[must_use]
            pub fn severity(self) -> Severity {
                match self { $(Self::$variant => Severity::$severity,)* }
            }

            /// The page that explains it, in Markdown; with a wrong recipe and a right one where a recipe can show it.
            #[must_use]
            pub fn page(self) -> &'static str {
                match self { $(Self::$variant => include_str!(concat!("pages/", $name, ".md")),)* }
            }
        }
    };
}

codes! {
    YamlSyntax "yaml-syntax" Error "the file is not YAML";
    NotUtf8 "not-utf8" Error "the file is not UTF-8 text";
    TooLarge "too-large" Error "the file, its depth, its aliases or the number of its values is beyond the limits";
    DuplicateKey "duplicate-key" Error "a key stands twice in one mapping";
    UnknownKey "unknown-key" Error "a key that the format does not have";
    MissingKey "missing-key" Error "a key that must be there is not";
    WrongValue "wrong-value" Error "a value of another type or form than the key takes";
    NoVerb "no-verb" Error "a step that says nothing to do";
    SeveralVerbs "several-verbs" Error "a step with more than one verb";
    MisplacedKey "misplaced-key" Error "a key that does not go with the step's verb";
    DuplicateId "duplicate-id" Error "two steps of one scope with the same id";
    HiddenName "hidden-name" Error "a name that hides another one";
    UnknownName "unknown-name" Error "a name that nothing fills";
    LaterName "later-name" Error "a name that is filled only later";
    UnknownUnit "unknown-unit" Error "a unit that is not in the table";
    BadQuantity "bad-quantity" Error "text that is not a quantity";
    KindMismatch "kind-mismatch" Error "kinds of quantity that do not go together";
    BareNumber "bare-number" Error "a bare number against a quantity";
    ListForValue "list-for-value" Error "a list where one value is wanted, or the other way round";
    TypeMismatch "type-mismatch" Error "text, truth and quantity mixed up";
    ExpressionSyntax "expression-syntax" Error "text that is not an expression";
    ExpressionTooLarge "expression-too-large" Error "an expression that is too long or too deep";
    Assignment "assignment" Error "an assignment in an expression";
    Sequence "sequence" Error "several expressions in a row";
    ComparisonChain "comparison-chain" Error "a chain of comparisons";
    CallWithoutParentheses "call-without-parentheses" Error "a function call without parentheses";
    NotFinite "not-finite" Error "a number that is not finite";
    TooManyDigits "too-many-digits" Error "a bare number with more digits than are read exactly";
    PercentOperator "percent-operator" Error "`%` used as an operator";
    InexactEquality "inexact-equality" Error "equality of numbers that are not exact";
    UnknownFunction "unknown-function" Error "a function that does not exist";
    WrongArguments "wrong-arguments" Error "a function called with other arguments than it takes";
    ToleranceOfWhole "tolerance-of-whole" Warning "a tolerance that is the whole of the nominal value or more";
    DividedByZero "divided-by-zero" Error "an expression that divides by zero whatever is read";
    UnknownBasis "unknown-basis" Error "a basis that the recipe does not declare";
    MissingBasis "missing-basis" Warning "a criterion without a basis";
    ConstantCriterion "constant-criterion" Error "a criterion that no reading can influence";
    ConstantCondition "constant-condition" Warning "a condition that is never or always true";
    NeverPasses "never-passes" Warning "a criterion that no reading in its range can meet";
    NeverFails "never-fails" Warning "a criterion that every reading in its range meets";
    UnmeetableRow "unmeetable-row" Warning "a row that no reading in its range can meet";
    UnusedValue "unused-value" Warning "a value that is neither judged, used nor asked for the file";
    RetryWithoutCriteria "retry-without-criteria" Error "a retry on a step that has no criteria";
    NothingToFail "nothing-to-fail" Warning "a key about criteria on a step that has none";
    NoLimits "no-limits" Error "a criterion that the decision rule can't be applied to";
    UncertaintyTooLarge "uncertainty-too-large" Error "a limit that no instrument of the shop is good enough for";
    UncertaintyLarge "uncertainty-large" Warning "a limit that instruments of the shop are hardly good enough for";
    UnknownRole "unknown-role" Error "an instrument role that the recipe does not declare";
    UnusedRole "unused-role" Warning "an instrument role that no step uses";
    RoleKind "role-kind" Error "an instrument role that does not measure the step's quantity";
    MissingChange "missing-change" Warning "no entry in `changes` for the revision";
    TemplateSyntax "template-syntax" Error "a sentence whose template can't be read";
    TemplateName "template-name" Error "a template that names something unknown";
    TemplateElsewhere "template-elsewhere" Warning "a template in a text that values are not put into";
    SingleBraces "single-braces" Warning "a name in single braces, which no value is put in place of";
    CutText "cut-text" Warning "a comment that cuts a text short";
    NothingFits "nothing-fits" Hint "a maker, model or kind of instrument that the shop does not have";
    MissingPicture "missing-picture" Warning "a picture that does not lie beside the recipe";
    UnknownCategory "unknown-category" Warning "a category of the shop's own";
    MissingPart "missing-part" Hint "a usual part of the category is missing";
    SameRow "same-row" Warning "two rows of one `each` that are the same";
    UnevenRows "uneven-rows" Error "rows of one `each` that differ in their fields or kinds";
    BadPattern "bad-pattern" Error "a pattern that is not a regular expression";
    BadRange "bad-range" Error "a range whose ends are the wrong way round";
    MissingBase "missing-base" Error "a base or fragment that is not there";
    OtherRevision "other-revision" Error "a base or fragment of another revision than is asked for";
    CircularBase "circular-base" Error "a base or fragment that leads back to the recipe itself";
    UnknownStep "unknown-step" Error "an edit of a step that the base does not have";
    EditedTwice "edited-twice" Error "two edits of one step that can't both be meant";
    MisplacedEdit "misplaced-edit" Error "a step where an edit is wanted, or an edit where a step is";
    SharedName "shared-name" Error "a name that means one thing in the recipe and another in a fragment";
    NewerRevision "newer-revision" Hint "a base or fragment of which there is a newer revision";
    WithdrawnBase "withdrawn-base" Warning "a base or fragment whose approval was withdrawn";
    FileName "file-name" Warning "a recipe in a file of another name";
    UnknownAuthor "unknown-author" Error "the author of the revision is not among the shop's people";
    ChangedAfterApproval "changed-after-approval" Error "a file that was changed after its revision was approved";
    OlderRevision "older-revision" Hint "a file with an older revision than the newest approved one";
    OddEntry "odd-entry" Warning "an entry of a register that looks like a mistake";
    ShopFault "shop-fault" Error "something in a shop's own files that can't be used";
}

impl Code {
    /// The code with this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|c| c.name() == name)
    }
}
