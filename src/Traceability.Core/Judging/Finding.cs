using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging;

/// <summary>The answer of one requirement. Nothing unchecked ever reads as good.</summary>
public enum Verdict
{
    Met,
    NotMet,
    /// <summary>It should be there and is not.</summary>
    Missing,
    /// <summary>It is not due yet; the finding names the date.</summary>
    Pending,
    /// <summary>Met on figures that later ones can change.</summary>
    Provisional,
    /// <summary>Within the uncertainty of clocks, or two records contradict each other.</summary>
    CannotTell,
    /// <summary>Not met, and accepted by a letter.</summary>
    NotMetAccepted,
    Waived,
    NotApplicable,
}

/// <summary>A record that was there and did not count, with the reason.</summary>
public sealed record UnusedEvidence(Guid Record, string Why);

/// <summary>What one requirement says of one subject of the unit.</summary>
public sealed record Finding
{
    public required string Requirement { get; init; }
    public required HoldKind Hold { get; init; }

    /// <summary>What was judged: the unit, one of its cages, lots, batches, cylinder sets; with a place where one is meant.</summary>
    public required string Subject { get; init; }

    public required string Title { get; init; }
    public required Verdict Verdict { get; init; }

    /// <summary>Why, in one sentence that a tired engineer understands.</summary>
    public required string Reason { get; init; }

    /// <summary>Who can clear it and how; empty when nothing is to be done.</summary>
    public string Clear { get; init; } = "";

    public required Citation Source { get; init; }

    /// <summary>The limit as printed; empty when the requirement has none.</summary>
    public string Limit { get; init; } = "";

    /// <summary>The observed value as read or as calculated, with its unit.</summary>
    public string Observed { get; init; } = "";

    /// <summary>The rounding that was used, in words; empty when none was.</summary>
    public string Rounding { get; init; } = "";

    /// <summary>Whether the limit was confirmed by a person against a page of its document.</summary>
    public bool LimitConfirmed { get; init; }

    /// <summary>Until when it can still come, for <see cref="Verdict.Pending"/>.</summary>
    public DateTimeOffset? Due { get; init; }

    public IReadOnlyList<Guid> Used { get; init; } = [];
    public IReadOnlyList<UnusedEvidence> SetAside { get; init; } = [];

    /// <summary>Whether work may go on as far as this finding is concerned.</summary>
    public bool Allows => Verdict is Verdict.Met or Verdict.Provisional or Verdict.NotMetAccepted or Verdict.Waived or Verdict.NotApplicable;
}
