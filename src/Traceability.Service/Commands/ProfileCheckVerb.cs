using Spectre.Console.Cli;
using System.ComponentModel;
using Traceability.Core.Profiles;
using Traceability.Service.Imports;

namespace Traceability.Service.Commands;

public sealed class ProfileCheckSettings : VerbSettings
{
    [CommandArgument(0, "<FILES>")]
    [Description("Profiles as YAML; one may inherit another of them, or one that ships with the service.")]
    public required string[] Files { get; set; }
}

/// <summary>Reads profiles as an import would and names every mistake with its line, its reason and what to do.</summary>
public sealed class ProfileCheckVerb : AsyncCommand<ProfileCheckSettings>
{
    protected override Task<int> ExecuteAsync(CommandContext context, ProfileCheckSettings settings, CancellationToken cancellationToken)
    {
        var terminal = (Terminal)context.Data!;
        var errors = new List<ProfileError>();
        var given = new Dictionary<string, ProfileDocument>(StringComparer.Ordinal);
        foreach (var path in settings.Files)
        {
            if (!File.Exists(path)) throw VerbException.Called($"{path} is not there.");
            using var reader = new StreamReader(path);
            var (document, wrong) = YamlProfiles.Read(Path.GetFileName(path), reader);
            errors.AddRange(wrong);
            if (document is not null) given[document.Name] = document;
        }

        foreach (var document in given.Values)
            errors.AddRange(ProfileCompiler.Compile(document, name => given.GetValueOrDefault(name) ?? YamlProfiles.Shipped.GetValueOrDefault(name)).Errors);
        if (settings.Json) terminal.Json(new { files = settings.Files, errors = errors.Select(e => new { file = e.File, line = e.Line, reason = e.Reason, remedy = e.Remedy }) });
        else
        {
            foreach (var error in errors) terminal.Out.WriteLine($"{error.File}, line {error.Line}: {error.Reason} {error.Remedy}");
            if (errors.Count == 0) terminal.Out.WriteLine($"{string.Join(", ", given.Keys)}: nothing wrong");
        }

        return Task.FromResult(errors.Count == 0 ? ExitCodes.Done : ExitCodes.Wrong);
    }
}
