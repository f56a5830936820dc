using System.Text.Json;
using System.Text.Json.Serialization;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Service.Packets.Pages;

namespace Traceability.Service.Packets;

/// <summary>The content a form of the agency is filled from.</summary>
public enum PacketSection
{
    Identification, Steel, ConcreteMaterials, PeopleAndInstruments, CloseUp, PrePour, Batches, FreshTests, Strength, Curing,
    Releases, Agency, AsCast, StripAndShip, Deviations, Findings,

    /// <summary>A document the agency lists and the service keeps no facts for.</summary>
    None,
}

/// <summary>One form in the agency's own order, number and title.</summary>
/// <param name="Clause">Where the agency asks for it.</param>
/// <param name="PendingAllowedBy">Clause under which a unit may ship while results of this form are pending; null when none allows it.</param>
/// <param name="NotRequiredFor">Products it is not required for, by the clause that says so.</param>
public sealed record PacketForm(
    string Number, string Title, PacketSection Section, string Clause,
    string? PendingAllowedBy = null, IReadOnlyList<ProductExemption>? NotRequiredFor = null)
{
    public string? NotRequiredBy(string? product) =>
        NotRequiredFor?.FirstOrDefault(e => string.Equals(e.Product, product, StringComparison.OrdinalIgnoreCase))?.Clause;
}

public sealed record ProductExemption(string Product, string Clause);

/// <summary>The wording a quality engineer signs, by what is open. Nothing open may be signed under "complete".</summary>
public sealed record CertificationWording(string Complete, string WithExceptions, string WithOpenItems);

/// <summary>The certificate that goes with a truck.</summary>
/// <param name="Complete">Wording that is signed when nothing is open.</param>
/// <param name="WithExceptions">Wording when something is listed as not certified, or not simply met.</param>
public sealed record LoadCertificateForm(string Number, string Title, string Clause, string Complete, string WithExceptions, IReadOnlyList<string> Signatures);

/// <summary>How one agency wants its packet: data, one file per agency under Templates/.</summary>
/// <param name="LargestPdfKilobytes">Size of a file above which the agency wants the PDF in parts; null when it sets none.</param>
public sealed record PacketTemplate(
    string Id, string Agency, string Title, string Specification, string Introduction, IReadOnlyList<PacketForm> Forms,
    CertificationWording Certification, IReadOnlyList<string> Signatures, string HeatIndexTitle, string ProofTitle, string CertificationTitle,
    LoadCertificateForm LoadCertificate, int? LargestPdfKilobytes = null)
{
    /// <summary>Agency of the template that is used where no other fits.</summary>
    public const string AnyAgency = "*";

    /// <summary>
    /// The clause under which a unit may be shipped while a finding is pending; null when none allows it, or it is not pending.
    /// What stands before shipping itself can never come after it.
    /// </summary>
    public string? PendingAllowedBy(Finding finding) =>
        finding is { Verdict: Verdict.Pending, Hold: HoldKind.Acceptance } ? Forms.FirstOrDefault(f => f.Section == UnitForms.SectionOf(finding))?.PendingAllowedBy : null;

    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
        RespectNullableAnnotations = true,
        RespectRequiredConstructorParameters = true,
        ReadCommentHandling = JsonCommentHandling.Skip,
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.CamelCase, allowIntegerValues: false) },
    };

    /// <summary>Every template that travels with the service.</summary>
    public static IReadOnlyList<PacketTemplate> All { get; } =
        [.. PacketResources.Names("Templates").Select(n => Read(PacketResources.Bytes(n)))];

    /// <summary>The agency's template, else the one for any agency.</summary>
    public static PacketTemplate For(string agency) =>
        All.FirstOrDefault(t => string.Equals(t.Agency, agency, StringComparison.OrdinalIgnoreCase)) ?? All.First(t => t.Agency == AnyAgency);

    /// <exception cref="JsonException">Not a template; names the member.</exception>
    public static PacketTemplate Read(ReadOnlySpan<byte> json) =>
        JsonSerializer.Deserialize<PacketTemplate>(json, Json) ?? throw new JsonException("a template is a JSON object");
}
