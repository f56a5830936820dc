using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Kiosk.Entries;

namespace Traceability.Kiosk.Judged;

/// <summary>The plant's words for what the rules call by a name of code.</summary>
public static class Words
{
    public static string Of(Verdict verdict) => verdict switch
    {
        Verdict.Met => "Met",
        Verdict.NotMet => "Not met",
        Verdict.Missing => "Missing",
        Verdict.Pending => "Pending",
        Verdict.Provisional => "Provisional",
        Verdict.CannotTell => "Cannot tell",
        Verdict.NotMetAccepted => "Not met, accepted",
        Verdict.Waived => "Waived",
        Verdict.NotApplicable => "Not applicable",
        _ => throw new ArgumentOutOfRangeException(nameof(verdict), verdict, "not a verdict"),
    };

    public static string Of(HoldKind hold) => hold switch
    {
        HoldKind.Tying => "Before tying",
        HoldKind.CloseUp => "Close-up",
        HoldKind.Pour => "Pour",
        HoldKind.Place => "Placing",
        HoldKind.Strip => "Strip",
        HoldKind.Ship => "Ship",
        _ => throw new ArgumentOutOfRangeException(nameof(hold), hold, "not a hold"),
    };

    public static string Of(HoldState state) => state switch
    {
        HoldState.Held => "Held",
        HoldState.Ready => "Ready",
        HoldState.Released => "Released",
        HoldState.Expired => "Expired",
        HoldState.Overridden => "Overridden",
        HoldState.PassedWithoutRelease => "Passed without release",
        HoldState.CannotTell => "Cannot tell",
        _ => throw new ArgumentOutOfRangeException(nameof(state), state, "not a state"),
    };

    public static string Of(SourceMark mark) => mark switch
    {
        SourceMark.Published => "published",
        SourceMark.Memory => "from memory, check against the document",
        SourceMark.Recorded => "as recorded here",
        _ => "common practice, no source",
    };

    public static string Of(EntryState state) => state switch
    {
        EntryState.SavedHere => "Saved here",
        EntryState.Received => "Received",
        EntryState.Recorded => "Recorded",
        EntryState.Sealed => "Sealed",
        EntryState.Conflict => "Conflict",
        EntryState.Quarantined => "Quarantined",
        EntryState.Parked => "Parked",
        EntryState.Refused => "Refused",
        _ => throw new ArgumentOutOfRangeException(nameof(state), state, "not a state"),
    };

    /// <summary>What the state means and what to do, in one breath.</summary>
    public static string Advice(EntryState state) => state switch
    {
        EntryState.SavedHere => "Safe on this kiosk. It is sent by itself when the service answers. Nothing to do.",
        EntryState.Received => "The service has it and is writing it down. The copy here stays until that is done. Nothing to do.",
        EntryState.Recorded => "In the plant's log, word for word. The next signed checkpoint seals it. Nothing to do.",
        EntryState.Sealed => "In the log under a signed checkpoint. Nothing to do.",
        EntryState.Conflict => "Another content is recorded under the same number. Neither counts. Tell the quality engineer; both are kept.",
        EntryState.Quarantined => "Kept, but it does not count until an administrator clears it. Tell an administrator.",
        EntryState.Parked => "The service could not write it down and set it aside. Tell an administrator; the copy here stays.",
        EntryState.Refused => "The service cannot read it. Record it again correctly and tell an administrator; the copy here stays.",
        _ => throw new ArgumentOutOfRangeException(nameof(state), state, "not a state"),
    };

    public static string Role(string role) => role.Replace('-', ' ');
}
