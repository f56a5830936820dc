using Microsoft.AspNetCore.Mvc.Filters;
using Microsoft.AspNetCore.Mvc.Core.Infrastructure;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

/// <summary>A form without the token of this visitor's own page leaves a line: it may have been made elsewhere.</summary>
public sealed class ForgedForms(SecurityLog log) : IAlwaysRunResultFilter
{
    public void OnResultExecuting(ResultExecutingContext context)
    {
        if (context.Result is IAntiforgeryValidationFailedResult) log.Refused(context.HttpContext, context.HttpContext.User.Identity?.IsAuthenticated == true ? context.HttpContext.User.PersonId() : "nobody", StatusCodes.Status400BadRequest);
    }

    public void OnResultExecuted(ResultExecutedContext context)
    {
    }
}
