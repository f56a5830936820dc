using System.ComponentModel;
using Marten;
using Spectre.Console.Cli;
using Traceability.Service.People;

namespace Traceability.Service.Commands;

public sealed class PeopleConfirmSettings : VerbSettings
{
    [CommandArgument(0, "<ID>")]
    [Description("The person whose roles wait for a second person.")]
    public required string Id { get; set; }

    [CommandOption("--reason <WORDS>", isRequired: true)]
    [Description("Why; it stands in the log.")]
    public string? Reason { get; set; }

    [CommandOption("--yes")]
    [Description("Nobody is left in the plant who could confirm it on the page Waiting for me.")]
    public bool Yes { get; set; }
}

/// <summary>
/// Lets the roles of a person hold that wait for a second person, where the plant has none left. Nobody signs for it, so it leaves a record and
/// stands in readiness.
/// </summary>
public sealed class PeopleConfirmVerb : Verb<PeopleConfirmSettings>
{
    protected override string Roles => "web";

    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, PeopleConfirmSettings settings, CancellationToken cancel)
    {
        if (!settings.Yes) throw VerbException.Called("This takes the place of a second person, and it stands in the log for good. Where a quality engineer or second approver is left, they confirm it on the page Waiting for me; else call again with --yes.");
        if (settings.Reason?.Trim() is not { Length: > 0 and <= 300 } reason) throw VerbException.Called("--reason must be a text of 1 to 300 characters: say what happened.");
        Person? known;
        await using (var session = services.GetRequiredService<IDocumentStore>().QuerySession()) known = await session.LoadAsync<Person>(settings.Id, cancel);
        var confirmed = await services.GetRequiredService<PeopleDesk>().ConfirmOnMachineAsync(settings.Id, reason, known, cancel);
        if (confirmed.Problem is { } problem) throw VerbException.NotThere(problem.Detail + " Nothing was changed.");
        if (settings.Json) terminal.Json(new { id = confirmed.Person!.Id, roles = confirmed.Person.Roles });
        else terminal.Out.WriteLine($"{confirmed.Person!.Id} is {string.Join(", ", confirmed.Person.Roles.Select(r => r.Replace('-', ' ')))} now. It stands in the log.");
        return ExitCodes.Done;
    }
}
