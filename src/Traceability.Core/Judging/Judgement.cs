using System.Buffers;
using System.Globalization;
using System.Security.Cryptography;
using System.Text.Json;
using System.Text.Json.Serialization;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging;

/// <summary>States of a hold. "Open" and "closed" are not used: half the trade reads them the other way round.</summary>
public enum HoldState
{
    /// <summary>Something stands in the way.</summary>
    Held,
    /// <summary>Nothing stands in the way; a person may release it.</summary>
    Ready,
    Released,
    Expired,
    Overridden,
    /// <summary>The step was taken without a release: a breach.</summary>
    PassedWithoutRelease,
    /// <summary>Whether the release came before the step cannot be told by the two stations' clocks.</summary>
    CannotTell,
}

/// <summary>One hold of a unit as judged.</summary>
/// <param name="OpenItems">Requirement and subject of every finding that does not allow the step, own holds first.</param>
/// <param name="Contradicted">Set when a release exists and the evidence known now would not allow it.</param>
/// <param name="NeedsRelease">Whether the plant has to release it before the step.</param>
/// <param name="Release">The release or override that counts: the one that stood at the step or stands now; else the last that ended.</param>
public sealed record Hold(HoldKind Kind, HoldState State, IReadOnlyList<OpenItem> OpenItems, bool NeedsRelease, Guid? Release, Guid? Step, bool Contradicted)
{
    /// <summary>Who stands behind it, by the profile.</summary>
    public HoldAuthority Authority { get; init; }

    /// <summary>The role that releases it where the profile names one; null for a plant inspector or the quality engineer.</summary>
    public string? ReleaseRole { get; init; }

    /// <summary>Person who decided <see cref="Release"/>.</summary>
    public string? ReleasedBy { get; init; }

    /// <summary>The agency's release or waiver of an agency hold that stood at the step or stands now.</summary>
    public Guid? AgencyRelease { get; init; }

    /// <summary>What the release covers; null when it states nothing.</summary>
    public ReleaseScope? Scope { get; init; }

    /// <summary>When time ends the release; null when it does not.</summary>
    public DateTimeOffset? ValidUntil { get; init; }

    /// <summary>Why it is not simply held, ready or released, in one sentence; null when there is nothing to say.</summary>
    public string? Cause { get; init; }

    public IReadOnlyList<Alarm> Alarms { get; init; } = [];

    /// <summary>A step taken that should not have been, or an override of what nobody may override.</summary>
    [JsonIgnore]
    public bool Breach => Alarms.Any(a => a.Kind is AlarmKind.PassedWithoutRelease or AlarmKind.OverrideBreach or AlarmKind.WithoutNotice);

    /// <summary>Whether a person of the plant may release it now: nothing is open, and no release stands or its time has passed.</summary>
    [JsonIgnore]
    public bool MayBeReleased => Step is null && OpenItems.Count == 0 && State is (HoldState.Ready or HoldState.Expired);
}

public enum AlarmKind
{
    PassedWithoutRelease,
    /// <summary>An override where none is allowed, or by one person alone.</summary>
    OverrideBreach,
    /// <summary>Later evidence contradicts a release.</summary>
    Contradicted,
    /// <summary>A release ended before its step was taken.</summary>
    Expired,
    /// <summary>The agency was to have notice and had none.</summary>
    WithoutNotice,
    /// <summary>The clocks do not say whether a release stood when its step was taken.</summary>
    CannotTell,
}

/// <summary>Something of a hold that somebody has to hear of.</summary>
/// <param name="Record">The record it is about; null when there is none.</param>
public sealed record Alarm(AlarmKind Kind, string Words, Guid? Record);

public sealed record OpenItem(string Requirement, string Subject, Verdict Verdict, string Reason, string Clear);

/// <summary>Findings and hold states of one unit. Its canonical bytes are hashed; neither position nor moment is part of them.</summary>
public sealed record Judgement(Subject Unit, string Profile, string RulesVersion, IReadOnlyList<Finding> Findings, IReadOnlyList<Hold> Holds, DateTimeOffset? ValidUntil)
{
    private byte[]? _bytes;
    private string? _hash;

    public Hold Hold(HoldKind kind) => Holds.First(h => h.Kind == kind);

    /// <summary>Alarms of all holds, in the order of the holds.</summary>
    public IEnumerable<(HoldKind Hold, Alarm Alarm)> Alarms => Holds.SelectMany(h => h.Alarms.Select(a => (h.Kind, a)));

    /// <summary>SHA-256 of <see cref="Bytes"/>, lower-case hex.</summary>
    public string Hash => _hash ??= Convert.ToHexStringLower(SHA256.HashData(Bytes));

    /// <summary>RFC 8785 form. The format may not change without a new rules version.</summary>
    public byte[] Bytes => _bytes ??= Canonical();

    private byte[] Canonical() => CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(new
    {
        unit = Unit.Key,
        profile = Profile,
        rules = RulesVersion,
        validUntil = ValidUntil?.ToUniversalTime().ToString("O", CultureInfo.InvariantCulture),
        findings = Findings,
        holds = Holds,
    }, FactJson.Options));
}
