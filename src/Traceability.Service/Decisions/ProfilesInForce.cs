using System.Globalization;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Service.Decisions;

/// <summary>The quality engineer confirms the limits of a published profile, each against a page of its document, and says which version judges a contract.</summary>
public sealed class ProfilesInForce(DecisionRoom room)
{
    /// <summary>Confirms one limit. A limit that nobody confirmed stops a packet, not a pour.</summary>
    /// <param name="profile">"name@version".</param>
    /// <param name="key">The limit as the profile names it.</param>
    public Task<Decided> ConfirmAsync(string? profile, string? key, string? document, string? page, DateOnly? confirmedOn, string person, string? pin, CancellationToken cancel)
    {
        if (Named(profile) is not { } named) return Task.FromResult(NoName);
        if (document?.Trim() is not { Length: > 0 and <= FactShape.LongestText } read) return Task.FromResult(Decided.Wrong("document", $"must be a text of 1 to {FactShape.LongestText} characters", "Name the document that was read."));
        if (page?.Trim() is not { Length: > 0 and <= 100 } at) return Task.FromResult(Decided.Wrong("page", "must be a text of 1 to 100 characters", "Name the page the limit stands on."));
        return room.SitAsync(person, pin, async sitting =>
        {
            if (await PublishedAsync(sitting, named, cancel) is not { } published) return Unknown(profile!);
            if (published.Limits.Concat(published.PlanLimits ?? []).FirstOrDefault(l => l.Key == key) is not { } limit)
                return Decided.Wrong("key", "must name a limit of the profile", $"{profile} has no limit '{key}'; GET /v1/profiles/{profile} lists them.");
            var day = confirmedOn ?? DateOnly.FromDateTime(sitting.Now.DateTime);
            var written = await sitting.WriteAsync(new ProfileConfirmed(named.Profile, named.Version, limit.Key, read, at, day), cancel);
            return new(new { profile, key = limit.Key, limit.Printed, document = read, page = at, confirmedOn = day, record = written.RecordId, position = written.Position }, null);
        }, cancel);
    }

    /// <summary>From now on the contract is judged by this version; its units are judged anew. What was decided before keeps the judgement it rested on.</summary>
    public Task<Decided> AdoptAsync(string? contract, string? profile, string? reason, string person, string? pin, CancellationToken cancel)
    {
        if (!Subject.IsId(contract, "contract")) return Task.FromResult(Decided.Wrong("contract", "must be the id of a contract", "Name the contract that adopts the profile."));
        if (Named(profile) is not { } named) return Task.FromResult(NoName);
        if (reason?.Trim() is not { Length: > 0 and <= 500 } why) return Task.FromResult(Decided.Wrong("reason", "must be a text of 1 to 500 characters", "Say why, or name the agency's letter."));
        return room.SitAsync(person, pin, async sitting =>
        {
            if (await PublishedAsync(sitting, named, cancel) is null) return Unknown(profile!);
            if ((await Documents.AboutAsync<ContractOpened>(sitting.Connection, sitting.Time, Subject.Contract(contract!), cancel)).LastOrDefault() is not { } opened)
                return Decided.Refused(404, "contract-unknown", "No such contract", $"contract: '{contract}' was not opened here.");
            var before = (await Documents.AboutAsync<ProfileAdopted>(sitting.Connection, sitting.Time, Subject.Contract(contract!), cancel)).LastOrDefault() is { } adopted
                ? Subject.Profile(adopted.Profile, adopted.Version) : Subject.Profile(opened.Profile, opened.ProfileVersion);
            if (before.Id == profile) return Decided.Refused(409, "profile-adopted", "It is adopted already", $"{contract} is judged by {profile}.");
            var written = await sitting.WriteAsync(new ProfileAdopted(contract!, named.Profile, named.Version, why), cancel);
            return new(new { contract, profile, from = before.Id, record = written.RecordId, position = written.Position }, null);
        }, cancel);
    }

    private static Decided NoName => Decided.Wrong("profile", "must be a name and a version", "Write it as national-standards@1.");

    private static Decided Unknown(string profile) => Decided.Refused(404, "profile-unknown", "This profile was not published", $"profile: '{profile}' is no published version. GET /v1/profiles lists them.");

    private static (string Profile, int Version)? Named(string? name) =>
        name?.LastIndexOf('@') is { } at and > 0 && int.TryParse(name[(at + 1)..], NumberStyles.None, CultureInfo.InvariantCulture, out var version) && Subject.IsId(name, "profile") ? (name[..at], version) : null;

    private static async Task<ProfilePublished?> PublishedAsync(Sitting sitting, (string Profile, int Version) named, CancellationToken cancel) =>
        (await Documents.AboutAsync<ProfilePublished>(sitting.Connection, sitting.Time, Subject.Profile(named.Profile, named.Version), cancel)).LastOrDefault();
}
