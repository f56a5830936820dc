using Traceability.Core.Records;

namespace Traceability.Core.Integrity;

/// <summary>What a review of the records looks for.</summary>
public enum IntegrityKind
{
    /// <summary>People, roles, secrets or devices were changed.</summary>
    Authority,
    /// <summary>Many facts of one person entered in one go, long after they happened.</summary>
    LateBlock,
    /// <summary>One person recorded the same set of readings again and again.</summary>
    IdenticalReadings,
    /// <summary>One person recorded in two places at overlapping times.</summary>
    TwoPlaces,
    /// <summary>A test or an inspection that happened before a decision was entered after it.</summary>
    AfterItsDecision,
    /// <summary>A correction or withdrawal turned not met into met.</summary>
    TurnedByChange,
    /// <summary>A hold was overridden.</summary>
    Override,
    /// <summary>An override where none is allowed, or a step taken without a release.</summary>
    Breach,
}

/// <summary>
/// Something in the records that a person should look at. It proves nothing: each has an honest explanation too.
/// </summary>
/// <param name="Words">What was seen, in one sentence.</param>
/// <param name="Person">Whose records they are; null when they name nobody.</param>
/// <param name="At">When: of several records the latest.</param>
/// <param name="Records">The records it rests on, in order of position.</param>
public sealed record IntegrityNote(IntegrityKind Kind, string Words, string? Person, DateTimeOffset At, IReadOnlyList<Guid> Records, Subject? Subject = null);
