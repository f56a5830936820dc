using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Service.Imports;

/// <summary>Checks files of limits and shows the complete profile of each, without a database and without publishing anything.</summary>
public static class ProfileFiles
{
    /// <summary>What came of one file.</summary>
    public sealed record Checked(string File, ProfilePublished? Profile, IReadOnlyList<ProfileError> Errors);

    /// <summary>Reads the files, each with what it inherits: another of them, or one that the program carries.</summary>
    public static IReadOnlyList<Checked> Check(IReadOnlyList<string> paths)
    {
        var read = paths.Select(path => (Path: path, Result: Read(path))).ToList();
        var given = read.Where(r => r.Result.Document is not null).GroupBy(r => r.Result.Document!.Name, StringComparer.Ordinal)
            .ToDictionary(g => g.Key, g => g.First().Result.Document!, StringComparer.Ordinal);
        return [.. read.Select(r =>
        {
            if (r.Result.Document is not { } document) return new Checked(r.Path, null, r.Result.Errors);
            var compiled = ProfileCompiler.Compile(document, name => given.GetValueOrDefault(name) ?? YamlProfiles.Shipped.GetValueOrDefault(name));
            return new Checked(r.Path, compiled.Profile, compiled.Errors);
        })];
    }

    /// <summary>The same, written out: every error with its line and reason, or the limits. 0 when every file is in order, else 1.</summary>
    /// <param name="json">Writes the content of the fact that publishes each profile instead of a table.</param>
    public static int Run(IReadOnlyList<string> paths, bool json, TextWriter output, TextWriter errors)
    {
        var all = Check(paths);
        foreach (var file in all)
        {
            foreach (var error in file.Errors) errors.WriteLine(error);
            if (file.Profile is not { } profile) continue;
            if (json) output.WriteLine(JsonSerializer.Serialize(profile, FactJson.Options));
            else Write(profile, output);
        }

        return all.Any(f => f.Profile is null) ? 1 : 0;
    }

    private static void Write(ProfilePublished profile, TextWriter output)
    {
        output.WriteLine($"{profile.About.Id}: {profile.Title}; rounding {profile.Rounding}; {profile.Limits.Count} limits, {profile.Limits.Count(l => l.ConfirmedBy is null)} not confirmed");
        foreach (var edition in profile.Editions ?? []) output.WriteLine($"  {edition.Name} {edition.Value}");
        foreach (var limit in profile.Limits) Write("", limit, output);
        foreach (var limit in profile.PlanLimits ?? []) Write("the plant's own: ", limit, output);
        foreach (var lifted in profile.NotAsked ?? []) output.WriteLine($"  not asked: {lifted.What}, {lifted.Printed} ({lifted.Source})");
        foreach (var overruled in profile.Overruled ?? []) output.WriteLine($"  not the limit: {overruled.Stated.Key} {overruled.Stated.Value} {overruled.Stated.Unit} of {overruled.Stated.Source.Document} ({overruled.Why})");
    }

    private static void Write(string before, Limit limit, TextWriter output) =>
        output.WriteLine($"  {before}{limit.Key} {limit.Value} {limit.Unit}: {limit.Printed} ({limit.Source}){(limit.ConfirmedBy is null ? ", not confirmed" : "")}");

    private static (ProfileDocument? Document, IReadOnlyList<ProfileError> Errors) Read(string path)
    {
        try
        {
            using var reader = File.OpenText(path);
            return YamlProfiles.Read(path, reader);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return (null, [new(path, 1, e.Message, "Name a file that can be read.")]);
        }
    }
}
