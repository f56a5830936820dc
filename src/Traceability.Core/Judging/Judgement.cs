using System.Buffers;
using System.Globalization;
using System.Security.Cryptography;
using System.Text.Json;
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
public sealed record Hold(HoldKind Kind, HoldState State, IReadOnlyList<OpenItem> OpenItems, bool NeedsRelease, Guid? Release, Guid? Step, bool Contradicted);

public sealed record OpenItem(string Requirement, string Subject, Verdict Verdict, string Reason, string Clear);

/// <summary>Findings and hold states of one unit. Its canonical bytes are hashed; neither position nor moment is part of them.</summary>
public sealed record Judgement(Subject Unit, string Profile, string RulesVersion, IReadOnlyList<Finding> Findings, IReadOnlyList<Hold> Holds, DateTimeOffset? ValidUntil)
{
    private byte[]? _bytes;
    private string? _hash;

    public Hold Hold(HoldKind kind) => Holds.First(h => h.Kind == kind);

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
