using System.Net;
using System.Security.Claims;
using Microsoft.AspNetCore.Mvc;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>A person looks at the own browser sessions and ends others, signed with the password in use: who sits down at an open page ends nobody's session.</summary>
public sealed class OwnSessions(Sessions sessions, Register register, Signing signing, SecurityLog log)
{
    /// <summary>The newest first; null while the database is away.</summary>
    public async Task<IReadOnlyList<RunningSession>?> ListAsync(ClaimsPrincipal user, CancellationToken cancel)
    {
        if (register.Person(user.PersonId()) is not { } person) return [];
        try
        {
            return await sessions.OfAsync(person, cancel);
        }
        catch (Exception e) when (Recording.Recorder.IsAway(e) && !cancel.IsCancellationRequested)
        {
            return null;
        }
    }

    /// <summary>Ends one session, or every one but that of the request.</summary>
    /// <param name="session">Null for all others.</param>
    /// <returns>How many ended, or the problem in words.</returns>
    public async Task<(int Ended, ProblemDetails? Problem)> EndAsync(ClaimsPrincipal user, string? session, string? password, IPAddress? from, CancellationToken cancel)
    {
        if (string.IsNullOrEmpty(password)) return (0, Problems.Of(422, "person", "Not signed out", "password: must be there. Enter the password in use."));
        if (signing.Password(user.PersonId(), password, from).Problem is { } unsigned) return (0, unsigned);
        if (await ListAsync(user, cancel) is not { } own) return (0, Problems.Of(503, "database-away", "The database does not answer", "Your sessions cannot be told now. Try again in a few seconds."));
        var current = Sessions.IdOf(user);
        var ending = own.Where(s => session is null ? s.Id != current : s.Id == session).ToList();
        if (session is not null && ending.Count == 0) return (0, Problems.Of(409, "session", "This session has ended", "It ended by itself or was ended already. Nothing was changed."));
        foreach (var ended in ending)
        {
            await sessions.EndAsync(ended.Id, cancel);
            log.SessionEnded(user.PersonId());
        }

        return (ending.Count, null);
    }
}
